//! Further recordings on the page.

use crate::checks::assert_balanced;
use crate::made_up::{self, study};
use crate::page;
use hooptrace::recording::{ClockResult, FurtherRecording};

/// Where the clocks of further recordings lie, and why one was left out.
#[test]
fn further_recordings_are_listed_with_their_clocks() {
    let (mut analysis, made) = study(8);
    let clock = ClockResult {
        offset: made_up::q(-3.25, 0.004, "s"),
        drift: made_up::q(80.0, 30.0, "ppm"),
        drift_taken_out_ppm: 80.0,
        centre_s: 21.0,
        u_largest_s: 0.0043,
        places: 9,
        correlation: Some(0.93),
    };
    analysis.runs[0].recording.further = vec![
        FurtherRecording {
            file: "traces/camera.csv".to_owned(),
            clock: Some(clock),
            ..FurtherRecording::default()
        },
        FurtherRecording {
            reason: Some("no pulse in <it>".to_owned()),
            ..FurtherRecording::default()
        },
    ];
    let page = page(&analysis, &made);
    assert_balanced(&page);
    assert_eq!(page.matches("Further recordings and").count(), 1);
    assert!(page.contains("3.250") && page.contains("left out: no") && !page.contains("<it>"));
}
