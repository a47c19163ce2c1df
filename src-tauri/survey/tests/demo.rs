//! The demo surveys read without a problem.

#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails and may time itself")]

#[test]
fn every_demo_survey_reads_clean() {
    for (name, text) in [
        ("ph-db1", include_str!("../../../seed-data/demo/ph-db1.json")),
        ("bl-db2", include_str!("../../../seed-data/demo/bl-db2.json")),
        ("br-db3", include_str!("../../../seed-data/demo/br-db3.json")),
    ] {
        let read = survey::file::read(text).unwrap_or_else(|problems| panic!("{name}: {problems:#?}"));
        assert_eq!(read.doubts, vec![], "{name}");
        let follows = survey::arrangement::consequences(&read.board);
        assert_eq!(follows.problems, vec![], "{name}");
    }
}
