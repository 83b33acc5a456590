//! The sheet in other people's hands: both sizes of paper.

use stillrod::certificate::Letterhead;
use stillrod::certificate::Logo;
use stillrod::certificate::PaperSize;
use stillrod::certificate::isolation_pdf;

use crate::edges::assert_inside;
use crate::scene;

#[test]
fn no_text_leaves_a_page_of_either_size() {
    let folder = tempfile::tempdir().expect("a folder");
    for paper in [PaperSize::A4, PaperSize::Letter] {
        for (name, mut facts) in scene::all() {
            facts.letterhead = Letterhead {
                address: vec!["Depot yard".into(), "Tarn Valley".into()],
                logo: Some(Logo::Svg(
                    "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"9\" height=\"9\"><circle r=\"4\"/></svg>".into(),
                )),
                paper: Some(paper),
            };
            let path = folder.path().join(format!("{name}-{paper:?}.pdf"));
            std::fs::write(&path, isolation_pdf(&facts).expect("a sheet")).expect("writable");
            assert_inside(&path);
        }
    }
}
