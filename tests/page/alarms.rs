//! What goes wrong around the bench stands at the top of the first sheet.

use crate::bench::own_shop;
use crate::browser::Browser;
use crate::browser::serve;

#[test]
fn another_program_in_the_data_folder_is_told_of_until_it_ends() {
    let folder = own_shop();
    let first = serve(folder.path(), &[]);
    let mut browser = Browser::new(first.at);
    for _ in 0..2 {
        let text = browser.page("/");
        assert!(!text.contains("has this data folder open"), "{text}");
    }
    let second = serve(folder.path(), &[]);
    // It is asked for something, so that it has read the register.
    Browser::new(second.at).page("/");
    // Seen once it may be gone at once; seen twice it is told of.
    browser.page("/");
    let text = browser.page("/");
    let told = format!(
        "stillrod (process {}) has this data folder open",
        second.pid()
    );
    assert!(text.contains(&told), "{text}");
    assert_eq!(second.end(), Some(0));
    let text = browser.page("/");
    assert!(!text.contains("has this data folder open"), "{text}");
}

#[test]
fn that_something_was_read_takes_a_form_of_ours() {
    let folder = own_shop();
    let served = serve(folder.path(), &[]);
    let mut browser = Browser::new(served.at);
    let token = browser.token("/tag");
    assert_eq!(browser.post("/alarms", &[("last", "1")]).status, 403);
    for last in ["1", "x", "", "-9223372036854775809"] {
        let reply = browser.post("/alarms", &[("token", &token), ("last", last)]);
        assert_eq!(
            (reply.status, reply.header("location")),
            (303, "/"),
            "{last}"
        );
    }
}
