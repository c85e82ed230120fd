//! What a request asks for: pure, from its head alone. A request has no body.

use hyper::header::{CONTENT_LENGTH, COOKIE, HeaderMap, TRANSFER_ENCODING};
use hyper::{Method, Request};

use super::key::Key;

/// Below this lies everything. The cookie is for it alone: other servers of the same computer never see the key.
pub(super) const ROOT: &str = "/watch/";
/// The cookie.
pub(super) const COOKIE_NAME: &str = "nightrode";
/// A header that no form and no page of another server can send unasked.
pub(super) const ACT_HEADER: &str = "nightrode-act";

/// What is asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Asked {
    /// The key is shown for the first time, as the code has it.
    Open,
    /// The page.
    Page,
    /// Its script.
    Script,
    /// Its style.
    Style,
    /// Its picture in the browser's bar.
    Icon,
    /// How the watch stands, from now on.
    Stream,
    /// To acknowledge what waits.
    Acknowledge,
    /// Nothing that there is, or without the key.
    Nothing,
}

/// What a request asks for.
pub(super) fn asked<B>(request: &Request<B>, key: &Key) -> Asked {
    let Some(below) = request.uri().path().strip_prefix(ROOT) else { return Asked::Nothing };
    if has_body(request.headers()) || request.uri().query().is_some() {
        return Asked::Nothing;
    }
    if request.method() == Method::GET && key.is(below.as_bytes()) {
        return Asked::Open;
    }
    if !shows(request.headers(), key) {
        return Asked::Nothing;
    }
    match (request.method(), below) {
        (&Method::GET, "") => Asked::Page,
        (&Method::GET, "page.js") => Asked::Script,
        (&Method::GET, "page.css") => Asked::Style,
        (&Method::GET, "icon.svg") => Asked::Icon,
        (&Method::GET, "stream") => Asked::Stream,
        (&Method::POST, "acknowledge") if request.headers().contains_key(ACT_HEADER) => Asked::Acknowledge,
        _ => Asked::Nothing,
    }
}

fn has_body(headers: &HeaderMap) -> bool {
    let mut lengths = headers.get_all(CONTENT_LENGTH).iter();
    headers.contains_key(TRANSFER_ENCODING) || lengths.any(|length| length != "0")
}

/// Whether the key is among the cookies.
fn shows(headers: &HeaderMap, key: &Key) -> bool {
    let all = headers.get_all(COOKIE).iter();
    let pairs = all.flat_map(|line| line.as_bytes().split(|byte| *byte == b';'));
    let mut values = pairs.filter_map(|pair| {
        let pair = pair.trim_ascii();
        pair.strip_prefix(COOKIE_NAME.as_bytes())?.strip_prefix(b"=")
    });
    values.any(|value| key.is(value))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(method: &str, path: &str, headers: &[(&str, &str)], key: &Key) -> Asked {
        let mut request = Request::builder().method(method).uri(path);
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        asked(&request.body(()).unwrap(), key)
    }

    #[test]
    fn with_the_key_there_is_a_page_and_without_it_nothing() {
        let (key, other) = (Key::new().unwrap(), Key::new().unwrap());
        let cookie = |key: &Key| format!("theme=dark; nightrode={}", key.letters());
        let (right, wrong) = (cookie(&key), cookie(&other));
        let paths = ["", "page.js", "page.css", "icon.svg", "stream"];
        let found = paths.map(|path| of("GET", &format!("/watch/{path}"), &[("cookie", &right)], &key));
        assert_eq!(found, [Asked::Page, Asked::Script, Asked::Style, Asked::Icon, Asked::Stream]);
        for path in paths {
            let path = format!("/watch/{path}");
            assert_eq!(of("GET", &path, &[], &key), Asked::Nothing, "{path}");
            assert_eq!(of("GET", &path, &[("cookie", &wrong)], &key), Asked::Nothing, "{path}");
        }
        assert_eq!(of("GET", &format!("/watch/{}", key.letters()), &[], &key), Asked::Open);
        assert_eq!(of("GET", &format!("/watch/{}", other.letters()), &[], &key), Asked::Nothing);
        for path in ["/", "/watch", "/watch/..", "/watch//", "/watch/page.js?x", "/favicon.ico", "*"] {
            assert_eq!(of("GET", path, &[("cookie", &right)], &key), Asked::Nothing, "{path}");
        }
        let two = format!("nightrode={}; nightrode={}", other.letters(), key.letters());
        assert_eq!(of("GET", "/watch/", &[("cookie", &two)], &key), Asked::Page);
    }

    #[test]
    fn to_act_needs_a_post_a_header_of_its_own_and_no_body() {
        let key = Key::new().unwrap();
        let cookie = format!("nightrode={}", key.letters());
        let acts = |method: &str, more: &[(&str, &str)]| {
            of(method, "/watch/acknowledge", &[&[("cookie", &*cookie)], more].concat(), &key)
        };
        assert_eq!(acts("POST", &[(ACT_HEADER, "1")]), Asked::Acknowledge);
        assert_eq!(acts("POST", &[(ACT_HEADER, "1"), ("content-length", "0")]), Asked::Acknowledge);
        for refused in [
            acts("POST", &[]),
            acts("GET", &[(ACT_HEADER, "1")]),
            acts("POST", &[(ACT_HEADER, "1"), ("content-length", "5")]),
            acts("POST", &[(ACT_HEADER, "1"), ("transfer-encoding", "chunked")]),
        ] {
            assert_eq!(refused, Asked::Nothing);
        }
    }
}
