//! The shop's letterhead: name, address, logo, job number; and texts made safe for a style sheet.

use std::path::Path;

use serde::Serialize;

use super::queries::{Look, NAME, SHORT};
use crate::source::Problem;
use crate::words::clip;

/// Largest file of a logo, in bytes: it is in every page.
const MAX_BYTES: u64 = 256 << 10;
/// Longest side of a logo, in pixels: a small file can unpack to a huge picture.
const MAX_PIXELS: u32 = 4096;

/// What stands over each leaf.
#[derive(Debug, Serialize)]
pub(super) struct Letterhead {
    name: String,
    address: String,
    /// The picture as a data URL.
    logo: Option<String>,
    pub(super) job: Option<String>,
}

/// Reads it.
/// Errors: the logo cannot be read, is no PNG or JPEG, or is too large.
pub(super) fn letterhead(look: &Look<'_>, file: &str) -> Result<Letterhead, Problem> {
    let shop = look.shop;
    let stem = file.strip_suffix(".toml").unwrap_or(file);
    let job = shop.job_number(&clip(stem, SHORT), look.build.build.priced_on);
    Ok(Letterhead {
        name: clip(shop.name.as_deref().unwrap_or(""), NAME),
        address: clip(&shop.address.join(" · "), 2 * NAME),
        logo: shop.logo.as_deref().map(logo).transpose()?,
        job: job.map(|job| clip(&job, NAME)),
    })
}

/// A logo as a data URL.
fn logo(path: &Path) -> Result<String, Problem> {
    let wrong = |why: String| {
        let message = format!("the shop's logo {} {why}", path.display());
        Problem::new(message).help("give a PNG or JPEG picture of at most 256 KiB")
    };
    let size = path.metadata().map_err(|e| wrong(format!("cannot be read: {e}")))?.len();
    if size > MAX_BYTES {
        return Err(wrong(format!("has {size} bytes, and {MAX_BYTES} are the most")));
    }
    let bytes = std::fs::read(path).map_err(|e| wrong(format!("cannot be read: {e}")))?;
    let Some((kind, wide, high)) = picture(&bytes) else {
        return Err(wrong("is not a PNG or JPEG picture".to_owned()));
    };
    if wide.max(high) > MAX_PIXELS || wide.min(high) == 0 {
        return Err(wrong(format!(
            "measures {wide} by {high} pixels, and {MAX_PIXELS} a side are the most"
        )));
    }
    Ok(format!("data:image/{kind};base64,{}", base64(&bytes)))
}

/// What a picture file is, and its width and height in pixels; by its bytes, not its name.
fn picture(bytes: &[u8]) -> Option<(&'static str, u32, u32)> {
    if bytes.starts_with(b"\x89PNG\r\n\x1a\n") && bytes.get(12..16) == Some(b"IHDR") {
        let side = |at: usize| Some(u32::from_be_bytes(bytes.get(at..at + 4)?.try_into().ok()?));
        return Some(("png", side(16)?, side(20)?));
    }
    if !bytes.starts_with(b"\xff\xd8\xff") {
        return None;
    }
    let mut at = 2;
    loop {
        let marker = *bytes.get(at + 1).filter(|_| bytes.get(at) == Some(&0xff))?;
        let two = |at: usize| Some(u16::from_be_bytes(bytes.get(at..at + 2)?.try_into().ok()?));
        // A start of frame, which says the size.
        if matches!(marker, 0xc0..=0xc3 | 0xc5..=0xc7 | 0xc9..=0xcb | 0xcd..=0xcf) {
            return Some(("jpeg", u32::from(two(at + 7)?), u32::from(two(at + 5)?)));
        }
        at += 2 + usize::from(two(at + 2)?);
    }
}

/// Bytes in base 64, as RFC 4648 has it.
fn base64(bytes: &[u8]) -> String {
    const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut out = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for three in bytes.chunks(3) {
        let at = |n: usize| u32::from(three.get(n).copied().unwrap_or(0));
        let bits = at(0) << 16 | at(1) << 8 | at(2);
        for place in 0..4 {
            let letter = LETTERS.get((bits >> (18 - 6 * place) & 63) as usize).copied();
            out.push(if place > three.len() { '=' } else { char::from(letter.unwrap_or(b'A')) });
        }
    }
    out
}

/// A text between quotes of a style sheet: all but letters, digits and spaces is written as its
/// number, so that nothing ends the quotes or the sheet.
pub(crate) fn in_style(text: &str) -> String {
    let text = super::draw::settled(&crate::app::report::escape::inert(&clip(text, 80)));
    let mut out = String::new();
    for c in text.chars() {
        if c.is_ascii_alphanumeric() || c == ' ' {
            out.push(c);
        } else {
            out.push_str(&format!("\\{:06x}", u32::from(c)));
        }
    }
    out
}

#[cfg(test)]
#[path = "../../../../tests/unit/app/report/sheet/letterhead.rs"]
mod tests;
