//! What a search finds: words as beginnings, days, the latest first.

use super::*;

/// Three units, a day apart.
async fn three() -> (TempDir, Register) {
    let (folder, _path, register) = fresh().await;
    let units = [
        ("TV-0312", "plough lift, 63 % worn"),
        ("TV-0313", r#"tipping ram "rear" \ left's"#),
        ("TV_0314", "loader tilt, Prüfling"),
    ];
    for (day, (tag, description)) in (0i64..).zip(units) {
        let mut test = shop_test(tag);
        test.unit.tag = tag.to_owned();
        test.unit.description = description.to_owned();
        test.started_utc_ms += day * 86_400_000;
        register.record_test(&test, record).await.unwrap();
    }
    (folder, register)
}

#[tokio::test]
async fn each_word_is_looked_for_as_the_beginning_of_one_and_none_is_obeyed() {
    let (_folder, register) = three().await;
    for (text, n_found) in [
        ("", 3),
        ("PLOUGH", 1),
        ("plo lif", 1),
        ("lift plough TV-0312", 1),
        ("plough tilt", 0),
        ("TV-2026-0002", 1),
        ("TV-031", 3),
        ("0314", 1),
        ("prufling", 1),
        ("winter carrier", 3),
        ("%", 0),
        ("63 %", 1),
        ("\"rear\"", 1),
        ("\"unclosed", 0),
        ("left's", 1),
        ("plough OR tilt", 0),
        ("words: plough", 0),
        ("'; DROP TABLE test; --", 0),
        ("\0", 0),
        (")", 0),
    ] {
        let found = register.matching(text, Period::ALWAYS, 10).await.unwrap();
        assert_eq!(found.len(), n_found, "{text:?}");
    }
    let long = "x".repeat(100_000);
    assert_eq!(
        register.matching(&long, Period::ALWAYS, 10).await.unwrap(),
        []
    );
    assert_eq!(register.tests_of_unit("' OR '1'='1").await.unwrap(), []);
    assert_eq!(register.tests_of_unit("TV_0314").await.unwrap().len(), 1);
    assert_eq!(register.latest(2).await.unwrap().len(), 2);
}

#[tokio::test]
async fn a_period_takes_its_days_and_the_latest_come_first() {
    let (_folder, register) = three().await;
    let period = Period {
        from_utc_ms: AUGUST_2026 + 86_400_000,
        until_utc_ms: AUGUST_2026 + 2 * 86_400_000,
    };
    for text in ["", "carrier"] {
        let found = register.matching(text, period, 10).await.unwrap();
        let tags: Vec<&str> = found.iter().map(|e| e.unit.tag.as_str()).collect();
        assert_eq!(tags, ["TV_0314", "TV-0313"], "{text:?}");
        let one = register.matching(text, period, 1).await.unwrap();
        assert_eq!(one, found[..1]);
    }
}

#[tokio::test]
async fn the_beginning_of_a_word_finds_it_however_long_it_is() {
    let (_folder, register) = three().await;
    // More words of one beginning than are looked for one by one, and a few of another.
    for index in 0..100 {
        let mut test = shop_test(&format!("many-{index}"));
        test.unit.tag = format!("X-{index}");
        test.unit.description = format!("halter{index} {}", ["ram", "ramming"][index % 2]);
        register.record_test(&test, record).await.unwrap();
    }
    for (text, n_found) in [
        ("descr", 0),
        ("tippi", 1),
        ("TIPPING", 1),
        ("tippingx", 0),
        ("carrier 7", 103),
        ("carri", 103),
        ("halte", 100),
        ("halter4", 11),
        ("halter42", 1),
        ("X-4", 11),
        ("rammi", 50),
        ("halter4 rammi", 5),
        ("carrier halter tippi", 0),
        ("Prüfl", 1),
        ("pruflin", 1),
        ("TV-2026-0001", 1),
        ("2026-00", 99),
        ("2026-0", 103),
        ("rear\" \\ left", 1),
    ] {
        let found = register.matching(text, Period::ALWAYS, 1000).await.unwrap();
        assert_eq!(found.len(), n_found, "{text:?}");
    }
}
