//! Pages and pictures as text. What is written into them is escaped by the way in which they are built.

use maud::Markup;

/// First line of a file of XML.
pub(super) const XML: &str = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n";

/// A document as a file. Characters that XML forbids (version 1.0, section 2.2) are left out: names come from others.
pub(super) fn file(document: Markup) -> String {
    let is_allowed =
        |c: char| !(c < ' ' && !matches!(c, '\t' | '\n' | '\r') || matches!(c, '\u{fffe}' | '\u{ffff}'));
    let mut out = document.into_string();
    out.retain(is_allowed);
    out.push('\n');
    out
}
