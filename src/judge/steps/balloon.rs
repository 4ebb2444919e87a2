//! The balloon was chosen by its oversize against a diameter that was measured.

use super::{Claim, Found, Step};
use crate::judge::rules::{Asked, Key, Kind};
use crate::recording::RunResult;
use crate::units::Dimension;

const AGAINST: Key = Key {
    name: "against",
    kind: Kind::Word(&[TRUE_ID, STENT_ID, LABEL]),
    meaning: "diameter of the frame that the balloon is set against: true_id or stent_id",
    needed: true,
};
const RATIO: Key = Key {
    name: "oversize_ratio",
    kind: Kind::Ratio,
    meaning: "oversize over that diameter (10 % is 0.1)",
    needed: false,
};
const WITHIN_RATIO: Key = Key {
    name: "within_ratio",
    kind: Kind::Ratio,
    meaning: "how far the ratio may be off",
    needed: false,
};
const OVERSIZE: Key = Key {
    name: "oversize",
    kind: Kind::Measured(Dimension::Length),
    meaning: "diameter of the balloon at the highest pressure less that diameter",
    needed: false,
};
const WITHIN: Key = Key {
    name: "within",
    kind: Kind::Measured(Dimension::Length),
    meaning: "how far the oversize may be off",
    needed: false,
};
const TRUE_ID: &str = "true_id";
const STENT_ID: &str = "stent_id";
const LABEL: &str = "label_size";

/// Oversize of the balloon, by its own diameter at the highest pressure, against the true or the stent inner diameter.
pub struct Balloon;

impl Balloon {
    fn keys_used(asked: &Asked) -> (&'static str, &'static str) {
        if asked.given(RATIO.name).is_some() {
            (RATIO.name, WITHIN_RATIO.name)
        } else {
            (OVERSIZE.name, WITHIN.name)
        }
    }
}

impl Step for Balloon {
    fn name(&self) -> &'static str {
        "balloon"
    }

    fn meaning(&self) -> &'static str {
        "oversize of the balloon at the highest pressure against a named diameter of the frame, never the label size"
    }

    fn keys(&self) -> &'static [Key] {
        &[AGAINST, RATIO, WITHIN_RATIO, OVERSIZE, WITHIN]
    }

    fn consistent(&self, asked: &Asked) -> Result<(), (String, String)> {
        if asked
            .texts
            .get(AGAINST.name)
            .is_some_and(|word| word == LABEL)
        {
            return Err((
                "is set against the label size".to_owned(),
                "a label size is a name, not a measured length: name true_id or stent_id"
                    .to_owned(),
            ));
        }
        let given = |key: &Key| asked.given(key.name).is_some();
        match (
            given(&OVERSIZE),
            given(&WITHIN),
            given(&RATIO),
            given(&WITHIN_RATIO),
        ) {
            (true, true, false, false) | (false, false, true, true) => Ok(()),
            _ => Err((
                "needs an oversize and how far it may be off, both as lengths or both as ratios"
                    .to_owned(),
                "write oversize_mm and within_mm, or oversize_ratio and within_ratio".to_owned(),
            )),
        }
    }

    fn claims(&self, asked: &Asked) -> Vec<Claim> {
        let (oversize, within) = Self::keys_used(asked);
        let (aim, off) = (asked.value(oversize), asked.value(within));
        let unit = if oversize == RATIO.name {
            "as a ratio"
        } else {
            "mm"
        };
        let of = format!("oversize against {}, {unit}", asked.written(AGAINST.name));
        vec![Claim::between(of, (aim - off, aim + off))]
    }

    fn asks(&self, asked: &Asked) -> String {
        let (oversize, within) = Self::keys_used(asked);
        format!(
            "oversize against {} {} within {}",
            asked.written(AGAINST.name),
            asked.written(oversize),
            asked.written(within)
        )
    }

    fn look(&self, asked: &Asked, run: &RunResult) -> Result<Found, String> {
        let frame = run
            .frame
            .as_ref()
            .ok_or("the run has no result of the frame under load")?;
        let true_id = asked
            .texts
            .get(AGAINST.name)
            .is_some_and(|word| word == TRUE_ID);
        let (oversize, within) = Self::keys_used(asked);
        let quantity = match (true_id, oversize == RATIO.name) {
            (true, false) => &frame.oversize_true_id,
            (true, true) => &frame.oversize_true_id_ratio,
            (false, false) => &frame.oversize_stent_id,
            (false, true) => &frame.oversize_stent_id_ratio,
        };
        if quantity.value.is_none() {
            return Err(quantity
                .reason
                .clone()
                .unwrap_or_else(|| "the oversize is not known".to_owned()));
        }
        let (asked_for, off) = (asked.value(oversize), asked.value(within));
        Ok(Found {
            quantity: quantity.clone(),
            least: asked_for - off,
            most: asked_for + off,
            when_s: None,
            reason: "diameter of the balloon at the highest pressure of the run".to_owned(),
        })
    }
}
