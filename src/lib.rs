//! hooptrace turns recordings of a valve-frame dilation bench into numbers with uncertainty and evidence.

pub mod balloon;
pub mod bench;
pub mod calibrate;
pub mod cli;
pub mod compare;
pub mod detect;
pub mod fit;
pub mod judge;
pub mod measure;
pub mod orifice;
pub mod pipeline;
pub mod plan;
pub mod plot;
pub mod prove;
pub mod read;
pub mod recording;
pub mod report;
pub mod rig;
pub mod segment;
pub mod stats;
pub mod table;
pub mod uncertain;
pub mod units;
