//! A packet of XMP with the texts of an imprint: ISO 16684-1:2019, with the properties `title`, `creator` and `rights` of Dublin Core
//! (8.3; numbers of sections from memory). Unlike EXIF it knows no other encoding than UTF-8.

use std::fmt::Write;

use super::imprint::Imprint;

/// The packet, or none where there is no text. It stands in a chunk of its own, so that it needs no marks around it (7.3.2).
pub(super) fn packet(imprint: &Imprint) -> Option<String> {
    if !imprint.has_text() {
        return None;
    }
    let mut out = String::from(concat!(
        "<x:xmpmeta xmlns:x=\"adobe:ns:meta/\">",
        "<rdf:RDF xmlns:rdf=\"http://www.w3.org/1999/02/22-rdf-syntax-ns#\">",
        "<rdf:Description rdf:about=\"\" xmlns:dc=\"http://purl.org/dc/elements/1.1/\">",
    ));
    // A name is one of several in order, a text one of several languages.
    let forms =
        [("title", "Alt", " xml:lang=\"x-default\""), ("creator", "Seq", ""), ("rights", "Alt", " xml:lang=\"x-default\"")];
    for ((_, text), (name, list, language)) in imprint.texts().into_iter().zip(forms) {
        let Some(text) = text else { continue };
        let text = escaped(text);
        let item = write!(out, "<dc:{name}><rdf:{list}><rdf:li{language}>{text}</rdf:li></rdf:{list}></dc:{name}>");
        debug_assert!(item.is_ok(), "a string takes everything");
    }
    out.push_str("</rdf:Description></rdf:RDF></x:xmpmeta>");
    Some(out)
}

/// Text as XML holds it (XML 1.0, 2.4).
fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;")
}
