//! What the page asks, answered from the register, the recordings and the papers of this shop.
//!
//! Each screen or deed of the page has one file here. Names from a browser are looked up in the
//! register; files are named by what the register says, never by what was asked.
//!
//! Invariant: there is one open register, and all writing goes through it.

mod start;
mod told;
mod unit_story;
mod units;

use super::clock;
use super::folder::DataFolder;
use super::paper::chain;
use crate::page::Desk;
use crate::page::Trouble;
use crate::page::view;
use crate::register::Register;
use crate::settings::Shop;

/// The shop that the page is about.
#[derive(Debug)]
pub struct ShopDesk {
    #[expect(dead_code, reason = "papers and photos come with their sheets")]
    folder: DataFolder,
    register: Register,
    shop: Option<Shop>,
}

impl ShopDesk {
    /// The desk of a data folder, its open register, and the shop if its file is known.
    pub fn new(folder: DataFolder, register: Register, shop: Option<Shop>) -> Self {
        Self {
            folder,
            register,
            shop,
        }
    }

    /// The shop's time zone; this computer's if there is no shop file.
    fn time_zone(&self) -> String {
        match &self.shop {
            Some(shop) => shop.time_zone.clone(),
            None => clock::own_zone(),
        }
    }
}

impl Desk for ShopDesk {
    fn shop_name(&self) -> String {
        self.shop
            .as_ref()
            .map(|shop| shop.name.clone())
            .unwrap_or_default()
    }

    async fn start(&self) -> Result<view::Start, Trouble> {
        start::start(self).await.map_err(broken)
    }

    async fn units(&self, asked: view::UnitsAsked) -> Result<view::Units, Trouble> {
        units::units(self, &asked).await.map_err(broken)
    }

    async fn story(&self, tag: &str) -> Result<view::Story, Trouble> {
        unit_story::shown(self, tag).await
    }

    async fn years(&self, tag: &str, index: usize, wide: bool) -> Result<String, Trouble> {
        unit_story::years(self, tag, index, wide).await
    }
}

/// An error that nobody at the page can have caused.
fn broken(error: anyhow::Error) -> Trouble {
    Trouble::broken(&chain(&error))
}
