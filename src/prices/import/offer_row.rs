//! An offer as its row is written: the same text for the same offer, wherever it comes from.

use crate::catalogue::offers::Offer;
use crate::trade::money::Money;

/// Puts the cells of an offer from the price on into a text, without the line's end.
#[derive(Debug, Default)]
pub(super) struct Cells<'a> {
    pub(super) price: Option<Money>,
    pub(super) shipping: Option<Money>,
    pub(super) stock: &'a str,
    pub(super) instant_off: Option<Money>,
    pub(super) mail_rebate: Option<Money>,
    pub(super) credit: Option<Money>,
    pub(super) bundle: &'a str,
    pub(super) bundle_value: Option<Money>,
}

impl Cells<'_> {
    /// Writes them over what the text held.
    pub(super) fn put(&self, out: &mut String) {
        out.clear();
        amount(out, self.price);
        out.push(',');
        out.push_str(self.price.map_or("", |p| p.currency().code()));
        out.push(',');
        amount(out, self.shipping);
        out.push(',');
        out.push_str(self.stock);
        for money in [self.instant_off, self.mail_rebate, self.credit] {
            out.push(',');
            amount(out, money);
        }
        out.push(',');
        cell(out, self.bundle);
        out.push(',');
        amount(out, self.bundle_value);
    }
}

/// The cells of an offer of the catalogue.
pub(super) fn of_offer(offer: &Offer, out: &mut String) {
    let stock = offer.stock.map_or_else(String::new, |n| n.to_string());
    let (bundle, bundle_value) = offer.bundle.as_ref().map_or(("", None), |(b, v)| (&**b, *v));
    let (price, shipping) = (Some(offer.price), offer.shipping);
    Cells {
        price,
        shipping,
        stock: &stock,
        instant_off: offer.instant_off,
        mail_rebate: offer.mail_rebate,
        credit: offer.credit,
        bundle,
        bundle_value,
    }
    .put(out);
}

/// A cell, in quotes where it needs them.
pub(super) fn cell(out: &mut String, text: &str) {
    if text.bytes().any(|b| matches!(b, b',' | b'"' | b'\n' | b'\r')) {
        out.push('"');
        out.push_str(&text.replace('"', "\"\""));
        out.push('"');
    } else {
        out.push_str(text);
    }
}

/// An amount without its currency; nothing where there is none.
fn amount(out: &mut String, money: Option<Money>) {
    let Some(money) = money else { return };
    let digits = usize::from(money.currency().minor_digits());
    let mut figures = [b'0'; 24];
    let (mut left, mut at) = (money.minor().unsigned_abs(), figures.len());
    // At least one figure stands before the point.
    while left > 0 || figures.len() - at <= digits {
        at -= 1;
        if let Some(slot) = figures.get_mut(at) {
            *slot = b'0' + (left % 10) as u8;
        }
        left /= 10;
    }
    let text = std::str::from_utf8(figures.get(at..).unwrap_or(&[])).unwrap_or("");
    let (whole, fraction) = text.split_at(text.len() - digits);
    if money.is_negative() {
        out.push('-');
    }
    out.push_str(whole);
    if digits > 0 {
        out.push('.');
        out.push_str(fraction);
    }
}

#[cfg(test)]
#[path = "../../../tests/unit/prices/import/offer_row.rs"]
mod tests;
