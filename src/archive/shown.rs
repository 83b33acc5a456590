//! What the codes of some rows stand for.

use super::layout;
use crate::recording::Piece;
use crate::recording::Track;

/// Values of one channel in some rows.
pub(super) struct ShownTrack {
    /// In SI units; NaN where there is none.
    pub(super) si: Vec<f64>,
    /// In the units of the plots; NaN where there is none.
    pub(super) plotted: Vec<f32>,
}

/// Values of all channels, in their order.
pub(super) fn shown(piece: &Piece) -> Vec<ShownTrack> {
    piece.tracks().iter().map(of_track).collect()
}

fn of_track(track: &Track) -> ShownTrack {
    let si = track.values();
    let role = track.channel.role;
    ShownTrack {
        plotted: si.iter().map(|si| layout::plotted(role, *si)).collect(),
        si,
    }
}
