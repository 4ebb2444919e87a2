//! Small checks of SVG and HTML, independent of the code that writes them.

use resvg::usvg::{Options, Tree};

/// Elements of HTML that have no end.
const VOID: &[&str] = &["meta", "br", "hr", "img", "input", "link"];

/// Axis labels that name categories and so have no unit.
const CATEGORIES: &[&str] = &["Group", "Stage of the run"];

/// The figure is SVG that a strict parser takes, has a title for screen readers, and every axis label ends in a unit.
pub fn assert_figure(svg: &str) {
    Tree::from_str(svg, &Options::default()).expect("well-formed SVG");
    assert!(svg.contains("role=\"img\"") && svg.contains("<title>"));
    assert!(!svg.contains("NaN"));
    let upright = svg
        .split("<text ")
        .skip(1)
        .filter(|t| t.split('>').next().unwrap().contains("rotate(270"))
        .map(|t| {
            t.split_once('>')
                .unwrap()
                .1
                .split('<')
                .next()
                .unwrap()
                .trim()
        });
    for label in upright {
        assert!(label.contains('(') && label.contains(')'), "{label}");
    }
    // The label under a panel: what names a quantity without a unit would be found here.
    for text in texts(svg) {
        for quantity in ["Time", "Pressure", "Diameter", "Injected volume"] {
            let bare = text == quantity
                || (text.starts_with(quantity) && text.len() < 20 && !text.contains('('));
            assert!(!bare || CATEGORIES.contains(&text.as_str()), "{text}");
        }
    }
}

/// Every start tag of the page has its end tag, in order.
pub fn assert_balanced(page: &str) {
    let body = page.split_once("<!DOCTYPE html>").expect("a doctype").1;
    // What stands in the style element is not markup.
    let (before, rest) = body.split_once("<style>").expect("a style");
    let after = rest.split_once("</style>").expect("the end of the style").1;
    let mut open: Vec<String> = Vec::new();
    for part in [before, after].iter().flat_map(|t| t.split('<').skip(1)) {
        let (tag, _) = part
            .split_once('>')
            .unwrap_or_else(|| panic!("unended tag: {part}"));
        let name: String = tag
            .trim_start_matches('/')
            .chars()
            .take_while(char::is_ascii_alphanumeric)
            .collect();
        if tag.starts_with('/') {
            let last = open.pop().unwrap_or_default();
            assert_eq!(last, name, "closed out of order");
        } else if !tag.ends_with('/') && !VOID.contains(&name.as_str()) {
            open.push(name);
        }
    }
    assert!(open.is_empty(), "{open:?}");
}

/// Every text between tags, trimmed.
pub fn texts(markup: &str) -> Vec<String> {
    markup
        .split('<')
        .filter_map(|part| part.split_once('>'))
        .map(|(_, text)| text.trim().to_owned())
        .filter(|text| !text.is_empty())
        .collect()
}

/// Every id given.
pub fn ids(page: &str) -> Vec<String> {
    page.split(" id=\"")
        .skip(1)
        .map(|part| part.split('"').next().unwrap().to_owned())
        .collect()
}
