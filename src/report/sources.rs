//! Formulas used, with their sources, as printed at the end of the page.

/// A formula and where it comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Source {
    /// What it gives.
    pub what: &'static str,
    /// The formula in plain text.
    pub formula: &'static str,
    /// Its source.
    pub source: &'static str,
}

/// Every formula behind a number of the page.
pub const SOURCES: &[Source] = &[
    Source {
        what: "Pressure units",
        formula: "1 atm = 101.325 kPa; 1 mmHg = 0.133322387415 kPa",
        source: "exact by definition",
    },
    Source {
        what: "Volume of the line",
        formula: "V(p) = C p + V_air p / (p + p_ambient), p gauge",
        source: "linear elasticity and the isothermal gas law",
    },
    Source {
        what: "Load on the frame",
        formula: "p_frame(D) = p(D) − p_free(D), at equal diameter",
        source: "balance of pressures on the balloon wall",
    },
    Source {
        what: "Wall tension, ring force",
        formula: "T = p_frame D / 2; N = T L",
        source: "thin-walled cylinder, textbook",
    },
    Source {
        what: "Set, expansion",
        formula: "set = D_after − D_before; expansion = (D_loaded − D_before) / D_before",
        source: "definition",
    },
    Source {
        what: "Recoil, recovery",
        formula: "recoil = (D_loaded − D_after) / D_loaded; recovery = (D_loaded − D_after) / (D_loaded − D_before)",
        source: "recoil as in ASTM F2079; recovery by definition",
    },
    Source {
        what: "Geometric area, area gain",
        formula: "A = π D² / 4; gain = (D_after / D_before)² − 1",
        source: "definition; never an effective area",
    },
    Source {
        what: "Effective orifice area",
        formula: "EOA = Q_RMS / (51.6 √(Δp / ρ)), cm², mL/s, mmHg, g/mL, over the positive-pressure period of forward flow",
        source: "ISO 5840, constant 51.6",
    },
    Source {
        what: "Regurgitant fraction",
        formula: "RF = 100 (closing + leakage volume) / forward stroke volume; closing ends where the reverse flow, past its peak, is down to the leak",
        source: "terms of ISO 5840-1; the rule that parts closing and leakage is this program's own",
    },
    Source {
        what: "Areas beside the effective one",
        formula: "Gorlin A = CO / (HR T 44.3 √Δp); Hakki A = CO / √Δp; energy loss EOA A / (A − EOA)",
        source: "Gorlin and Gorlin, Am Heart J 1951; Hakki et al., Circulation 1981; Garcia et al., Circulation 2000",
    },
    Source {
        what: "Orifice surrogate",
        formula: "Cd π D² / 4 with Cd assumed, 0.6 to 0.93",
        source: "published in vitro coefficients; no effective area",
    },
    Source {
        what: "Indexed area of a hypothetical patient",
        formula: "EOA / BSA; BSA = 0.007184 W^0.425 H^0.725 or √(H W / 3600), kg and cm",
        source: "Du Bois and Du Bois, Arch Intern Med 1916; Mosteller, N Engl J Med 1987; cut-offs VARC-3, Eur Heart J 2021",
    },
    Source {
        what: "Share fractured",
        formula: "exact binomial limits from the beta distribution",
        source: "Clopper and Pearson, Biometrika 1934",
    },
    Source {
        what: "Share not yet fractured at a pressure",
        formula: "S(p) = Π (1 − d_i / n_i) over fractures up to p",
        source: "Kaplan and Meier, J Am Stat Assoc 1958",
    },
    Source {
        what: "Weibull distribution",
        formula: "F(p) = 1 − exp(−(p / scale)^shape), maximum likelihood with right-censoring",
        source: "textbook; plotting positions after Johnson's adjusted ranks and Benard's (rank − 0.3) / (n + 0.4)",
    },
    Source {
        what: "Tolerance limits",
        formula: "mean ± k s, k from the noncentral t distribution (one side) or by integration (two sides)",
        source: "ISO 16269-6",
    },
    Source {
        what: "Agreement of two methods",
        formula: "bias ± 1.96 s of the differences; limits of both from the noncentral t distribution; slope of the difference on the mean",
        source: "Bland and Altman, Lancet 1986 and Stat Methods Med Res 1999; Carkeet, Optom Vis Sci 2015",
    },
    Source {
        what: "Agreement by frame",
        formula: "s² = S²(frame means) + (1 − 1/m) S²(within frames), m the harmonic mean of pairs a frame; limits by recovered variances",
        source: "Bland and Altman, J Biopharm Stat 2007; Zou, Stat Methods Med Res 2013",
    },
    Source {
        what: "Line between two methods",
        formula: "least squares of both residuals, weighted by the ratio of error variances; limits by leaving out one frame at a time",
        source: "Deming 1943; Linnet, Clin Chem 1993",
    },
    Source {
        what: "Line between two methods, by stated uncertainties",
        formula: "least sum of squared distances of points from the line in units of u(x) and u(y); χ² on n − 2 degrees of freedom",
        source: "York et al., Am. J. Phys. 2004",
    },
    Source {
        what: "Gauge study",
        formula: "two-way random analysis of variance, parts × operators × repeats; share = component / total, categories = √2 s(part) / s(gauge)",
        source: "common practice of crossed gauge studies; limits after Graybill and Wang, J Am Stat Assoc 1980, and Ting et al., J Stat Comput Simul 1990",
    },
    Source {
        what: "Counts",
        formula: "limits of a Poisson mean from the chi-squared distribution",
        source: "Garwood, Biometrika 1936",
    },
    Source {
        what: "Uncertainty",
        formula: "u_c² = Σ (∂f/∂x_i)² u_i² + 2 Σ covariances; ± is one standard uncertainty (k = 1)",
        source: "JCGM 100",
    },
];
