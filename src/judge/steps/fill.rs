//! The fill went as far as it should.

use super::{Claim, Found, Step, one_of, phases, pressure, recorded};
use crate::judge::rules::{Asked, Key, Kind};
use crate::recording::{PhaseKind, RunResult};
use crate::uncertain::Quantity;
use crate::units::Dimension;

const PRESSURE: Key = Key {
    name: "pressure",
    kind: Kind::Measured(Dimension::Pressure),
    meaning: "gauge pressure at the end of the fill",
    needed: false,
};
const VOLUME: Key = Key {
    name: "volume",
    kind: Kind::Measured(Dimension::Volume),
    meaning: "injected volume at the end of the fill",
    needed: false,
};
const WITHIN: Key = Key {
    name: "within",
    kind: Kind::Share,
    meaning: "how far it may be off, as a share of it (10 % is 0.1)",
    needed: true,
};

/// Pressure, or injected volume, at the end of the last fill.
pub struct Fill;

impl Fill {
    fn key(asked: &Asked) -> &'static str {
        if asked.given(PRESSURE.name).is_some() {
            PRESSURE.name
        } else {
            VOLUME.name
        }
    }
}

impl Step for Fill {
    fn name(&self) -> &'static str {
        "fill"
    }

    fn meaning(&self) -> &'static str {
        "pressure or injected volume at the end of the fill"
    }

    fn keys(&self) -> &'static [Key] {
        &[WITHIN, PRESSURE, VOLUME]
    }

    fn consistent(&self, asked: &Asked) -> Result<(), (String, String)> {
        let help = "write pressure_kpa or volume_ml; for both, write two steps";
        one_of(asked, &[PRESSURE.name, VOLUME.name], help)?;
        if asked.given(PRESSURE.name).is_some() && asked.given(VOLUME.name).is_some() {
            return Err((
                "has both a pressure and a volume".to_owned(),
                help.to_owned(),
            ));
        }
        Ok(())
    }

    fn claims(&self, asked: &Asked) -> Vec<Claim> {
        let key = Self::key(asked);
        let (aim, off) = (asked.value(key), asked.value(WITHIN.name));
        let range = (aim * (1.0 - off), aim * (1.0 + off));
        if key == PRESSURE.name {
            let of = "pressure at the end of the fill, kPa";
            vec![Claim::between(of, range), Claim::AimsAt(aim)]
        } else {
            vec![Claim::between("volume at the end of the fill, mL", range)]
        }
    }

    fn asks(&self, asked: &Asked) -> String {
        let off = asked.value(WITHIN.name);
        format!(
            "fill to {} within {}",
            asked.written(Self::key(asked)),
            crate::judge::words::percent(off)
        )
    }

    fn look(&self, asked: &Asked, run: &RunResult) -> Result<Found, String> {
        recorded(run)?;
        let fill = phases(run, PhaseKind::Fill)
            .last()
            .ok_or("the recording shows no fill")?;
        let key = Self::key(asked);
        let quantity = if key == PRESSURE.name {
            let end = fill.ends.pressure_end_kpa;
            pressure(
                fill,
                end.ok_or("no pressure at the end of the fill")?,
                "end of the fill",
            )
        } else {
            let end = fill.ends.volume_end_ml;
            let end = end.ok_or("no volume channel at the end of the fill")?;
            match fill.ends.u_volume_ml {
                Some(u) => Quantity::known(end, u, "mL", "end of the fill"),
                None => Quantity::without_u(
                    end,
                    "mL",
                    "end of the fill",
                    "the uncertainty of the channel is not known",
                ),
            }
        };
        let (asked_for, off) = (asked.value(key), asked.value(WITHIN.name));
        Ok(Found {
            quantity,
            least: asked_for * (1.0 - off),
            most: asked_for * (1.0 + off),
            when_s: Some(fill.t_end_s),
            reason: "median of the last three samples of the fill".to_owned(),
        })
    }
}
