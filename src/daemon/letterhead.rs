//! From the head of a shop's papers in its settings to that of a paper.

use crate::certificate;
use crate::settings::Logo;
use crate::settings::PaperSize;
use crate::settings::Shop;

/// What stands beside the shop's name on its papers.
pub(super) fn letterhead(shop: &Shop) -> certificate::Letterhead {
    certificate::Letterhead {
        address: shop.letterhead.address.clone(),
        logo: shop.letterhead.logo.as_ref().map(drawn),
        paper: shop.letterhead.paper.map(|paper| match paper {
            PaperSize::A4 => certificate::PaperSize::A4,
            PaperSize::Letter => certificate::PaperSize::Letter,
        }),
    }
}

/// A logo as papers draw it.
pub(super) fn drawn(logo: &Logo) -> certificate::Logo {
    match logo {
        Logo::Svg(text) => certificate::Logo::Svg(text.clone()),
        Logo::Png(bytes) => certificate::Logo::Png(bytes.clone()),
    }
}
