//! `settings`: every threshold with its default and its reason, as TOML to copy from.

use crate::rig::settings::{Setting, Settings};
use std::fmt::Write as _;

/// Longest line of a reason, characters.
const WIDTH: usize = 100;
/// What stands above all.
const HEAD: &str = "# Every threshold with its default and its reason. Copy what you set otherwise into study.toml, with the name\n# of its table; try it out first with `hooptrace prove --set table.name=value` (without \"settings.\").\n";

/// The text of all thresholds; as TOML it reads as the defaults.
pub fn text() -> String {
    let list = Settings::default().list();
    let mut text = HEAD.to_owned();
    write_group(&mut text, "settings", "", &list);
    for (group, about) in Settings::GROUPS {
        text.push('\n');
        comment(&mut text, about);
        write_group(&mut text, &format!("settings.{group}"), group, &list);
    }
    text
}

fn write_group(text: &mut String, table: &str, group: &str, list: &[Setting]) {
    // Writing into a String cannot fail (here and below).
    let _ = writeln!(text, "[{table}]");
    for setting in list.iter().filter(|setting| setting.group == group) {
        comment(text, setting.reason);
        let _ = writeln!(text, "{} = {}", setting.key, setting.value);
    }
}

/// A sentence as comment lines.
fn comment(text: &mut String, sentence: &str) {
    let mut length = 0;
    for word in sentence.split_whitespace() {
        if length == 0 || length + 1 + word.len() > WIDTH {
            text.push_str(if length == 0 { "#" } else { "\n#" });
            length = 1;
        }
        let _ = write!(text, " {word}");
        length += 1 + word.len();
    }
    text.push('\n');
}
