//! What a request is answered with, and what a browser may do with it.

use std::convert::Infallible;
use std::fmt::Write as _;
use std::pin::Pin;
use std::task::{Context, Poll};

use http_body::Frame;
use hyper::body::Bytes;
use hyper::header::{self, HeaderName, HeaderValue};
use hyper::{Response, StatusCode};
use ratatui::style::Color;
use tokio::sync::mpsc;

use super::asked::{COOKIE_NAME, ROOT};
use super::key::Key;
use super::told::ink_word;
use crate::tui::palette::{Colours, Ink, Light, Palette};

const PAGE: &str = include_str!("../../../assets/page/page.html");
const SCRIPT: &str = include_str!("../../../assets/page/page.js");
const STYLE: &str = include_str!("../../../assets/page/page.css");
const ICON: &str = include_str!("../../../assets/package/nightrode.svg");

/// The browser may load and run what this program serves, and nothing else; no other page may show this one.
pub(super) const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; \
                                 connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";
/// A phone that has not looked for so long shows the code again: 30 days, a long cruise.
const REMEMBERED_S: u32 = 30 * 24 * 3600;

/// What every answer says beside its own.
const ALWAYS: [(HeaderName, &str); 6] = [
    (header::CONTENT_SECURITY_POLICY, POLICY),
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (header::REFERRER_POLICY, "no-referrer"),
    (header::CACHE_CONTROL, "no-store"),
    (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
    (HeaderName::from_static("permissions-policy"), "camera=(), microphone=(), geolocation=()"),
];

/// The body of an answer.
pub(super) enum Body {
    /// All of it.
    Whole(Option<Bytes>),
    /// Piece by piece, until nobody gives any more.
    Pieces(mpsc::Receiver<Bytes>),
}

impl http_body::Body for Body {
    type Data = Bytes;
    type Error = Infallible;

    fn poll_frame(
        self: Pin<&mut Self>,
        cx: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Bytes>, Infallible>>> {
        let piece = match self.get_mut() {
            Self::Whole(bytes) => Poll::Ready(bytes.take()),
            Self::Pieces(pieces) => pieces.poll_recv(cx),
        };
        piece.map(|piece| piece.map(|bytes| Ok(Frame::data(bytes))))
    }

    fn is_end_stream(&self) -> bool {
        matches!(self, Self::Whole(None))
    }

    fn size_hint(&self) -> http_body::SizeHint {
        match self {
            Self::Whole(bytes) => {
                http_body::SizeHint::with_exact(bytes.as_ref().map_or(0, |b| b.len() as u64))
            }
            Self::Pieces(_) => http_body::SizeHint::default(),
        }
    }
}

/// An answer with all that it always says.
fn answer(status: StatusCode, kind: &'static str, body: Body) -> Response<Body> {
    let mut response = Response::new(body);
    *response.status_mut() = status;
    let headers = response.headers_mut();
    for (name, value) in ALWAYS {
        headers.insert(name, HeaderValue::from_static(value));
    }
    if !kind.is_empty() {
        headers.insert(header::CONTENT_TYPE, HeaderValue::from_static(kind));
    }
    response
}

fn text(kind: &'static str, words: impl Into<Bytes>) -> Response<Body> {
    answer(StatusCode::OK, kind, Body::Whole(Some(words.into())))
}

/// The page.
pub(super) fn page() -> Response<Body> {
    text("text/html; charset=utf-8", PAGE)
}

/// Its script.
pub(super) fn script() -> Response<Body> {
    text("text/javascript; charset=utf-8", SCRIPT)
}

/// Its style, in the colours of the screen.
pub(super) fn style() -> Response<Body> {
    text("text/css; charset=utf-8", format!("{}{STYLE}", inks()))
}

/// Its picture in the browser's bar.
pub(super) fn icon() -> Response<Body> {
    text("image/svg+xml", ICON)
}

/// News, piece by piece.
pub(super) fn stream(pieces: mpsc::Receiver<Bytes>) -> Response<Body> {
    answer(StatusCode::OK, "text/event-stream", Body::Pieces(pieces))
}

/// It was done, or refused in words.
pub(super) fn acted(refused: Option<String>) -> Response<Body> {
    match refused {
        None => answer(StatusCode::NO_CONTENT, "", Body::Whole(None)),
        Some(why) => answer(StatusCode::CONFLICT, "text/plain; charset=utf-8", Body::Whole(Some(why.into()))),
    }
}

/// The crew does not allow it.
pub(super) fn forbidden() -> Response<Body> {
    answer(StatusCode::FORBIDDEN, "", Body::Whole(None))
}

/// The key was shown: the browser keeps it where no script and no other server sees it, and goes on to an address
/// without it, so that it stands neither in the address bar nor in the history.
pub(super) fn opened(key: &Key) -> Response<Body> {
    let mut response = answer(StatusCode::SEE_OTHER, "", Body::Whole(None));
    let cookie = format!(
        "{COOKIE_NAME}={}; Path={ROOT}; Max-Age={REMEMBERED_S}; HttpOnly; SameSite=Strict",
        key.letters()
    );
    let headers = response.headers_mut();
    headers.insert(header::LOCATION, HeaderValue::from_static(ROOT));
    if let Ok(cookie) = HeaderValue::from_str(&cookie) {
        headers.insert(header::SET_COOKIE, cookie);
    }
    response
}

/// The screen's colours in each light, as the page's style names them.
fn inks() -> String {
    let mut out = String::new();
    for light in [Light::Day, Light::Dusk, Light::Night] {
        let palette = Palette { light, colours: Colours::TrueColour };
        let _ = write!(out, ":root[data-light={}]{{--ground:{}", light.word(), hex(palette.ground().bg));
        for ink in [Ink::Faint, Ink::Dim, Ink::Text, Ink::Strong, Ink::Boat, Ink::Trouble] {
            let _ = write!(out, ";--{}:{}", ink_word(ink), hex(palette.style(ink).fg));
        }
        out.push_str("}\n");
    }
    out
}

fn hex(colour: Option<Color>) -> String {
    match colour {
        Some(Color::Rgb(r, g, b)) => format!("#{r:02x}{g:02x}{b:02x}"),
        _ => "inherit".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_page_has_nothing_inline_and_loads_nothing_from_elsewhere() {
        for inline in ["<style", " style=", " onclick", " onload", "javascript:", "http://", "https://", "//"]
        {
            assert!(!PAGE.contains(inline), "{inline}");
        }
        let scripts: Vec<_> = PAGE.match_indices("<script").collect();
        assert_eq!(scripts.len(), 1);
        assert!(PAGE.contains("<script src=\"page.js\" defer></script>"));
        for word in ["innerHTML", "outerHTML", "insertAdjacentHTML", "document.write", "eval(", "http"] {
            assert!(!SCRIPT.contains(word), "{word}");
        }
        assert!(!STYLE.contains("url(") && !STYLE.contains("@import"));
        assert!(!POLICY.contains("unsafe"));
    }

    #[test]
    fn the_page_has_the_colours_of_the_screen() {
        let inks = inks();
        assert!(inks.starts_with(":root[data-light=day]{--ground:#f5f2e9;--faint:#b9b3a3;"), "{inks}");
        assert_eq!(inks.matches("--trouble:#").count(), 3);
    }

    #[test]
    fn the_key_goes_into_a_cookie_that_scripts_and_others_do_not_see() {
        let key = Key::new().unwrap();
        let response = opened(&key);
        let cookie = response.headers()[header::SET_COOKIE].to_str().unwrap();
        assert!(
            cookie.ends_with("HttpOnly; SameSite=Strict") && cookie.contains("Path=/watch/;"),
            "{cookie}"
        );
        assert_eq!(response.headers()[header::LOCATION], "/watch/");
    }
}
