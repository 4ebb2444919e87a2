//! What every page warns of. General words; never advice for a patient.

/// A caution: a short form for the top of the page and the whole for its end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Caution {
    /// A few words.
    pub heading: &'static str,
    /// The short form, empty where the caution stands only at the end.
    pub short: &'static str,
    /// The whole.
    pub text: &'static str,
}

/// The cautions, in the order they are printed.
pub const CAUTIONS: &[Caution] = &[
    Caution {
        heading: "Bench results only",
        short: "Bench results on the items tested. Not clinical advice, not a sizing chart, not evidence of safety or efficacy in a \
                patient.",
        text: "These are bench results on the items tested. They are not clinical advice, not a sizing chart, and no evidence of \
               safety or efficacy in a patient. Decisions belong to licensed clinicians and to the current labelling of the \
               devices.",
    },
    Caution {
        heading: "Outside the usual labelling",
        short: "Dilating above a balloon's rated burst pressure and breaking an implant on purpose are outside the usual labelling \
                of both devices; pressures above the rating are marked ▲.",
        text: "Dilating above a balloon's rated burst pressure, and breaking an implant on purpose, are outside the usual labelling \
               of both devices. Wherever a pressure of this report exceeds the rated burst pressure it is marked ▲.",
    },
    Caution {
        heading: "Hazard at the rig",
        short: "",
        text: "Twenty atmospheres in a system of 0.1 mL/atm store about 2 J; ten millilitres of trapped air add about 3 J. \
               Fragments and jets are to be expected: shield the rig, wear sealed eye protection and gloves, purge the air, use \
               stopcocks and tubing rated for the pressure, relieve to zero before coming near, and never point the line at \
               anyone. A wound by injected fluid is an emergency.",
    },
    Caution {
        heading: "Not to be carried over",
        short: "",
        text: "Do not carry these results over to patients. Among the conditions a bench does not show: a surgically enlarged or \
               patched annulus, a replaced root or conduit or a stentless root, a fragile or heavily calcified root or outflow \
               tract, low coronary take-off or small sinuses, active infection, a recent implant, more than one prosthesis in \
               series, other valve positions, and explanted or aged against new specimens.",
    },
    Caution {
        heading: "Known risks of the procedure",
        short: "",
        text: "Listed only, without rates: coronary obstruction, acute severe regurgitation, leaflet tear or damage to either \
               prosthesis, injury of annulus, root or outflow tract, ventricular septal defect, embolism of debris and stroke, \
               migration of the device, rupture of the balloon or a retained fragment, hypotension during pacing, heart block, \
               mitral injury. Whether dilation comes before or after a further implant has been debated on registry data.",
    },
    Caution {
        heading: "Bench frames differ",
        short: "Bench frames are new, at room temperature and without tissue, calcium or pannus: pressures and diameters differ in \
                vivo.",
        text: "Bench frames are new, dry or wet at room temperature, and without tissue support, calcium or pannus. Pressures and \
               diameters differ in vivo.",
    },
    Caution {
        heading: "Flow after dilation",
        short: "",
        text: "Fracture changes the geometry of the leaflets. Flow figures hold only where they were measured after the dilation on \
               the same specimen; an area from a diameter is geometric and no effective orifice area.",
    },
    Caution {
        heading: "Reach of the statistics",
        short: "",
        text: "Statistical statements hold for the lots sampled, the balloon model and size, the rate and the temperature of these \
               runs, and for nothing else.",
    },
];
