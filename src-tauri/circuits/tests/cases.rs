//! Boards as a competent person judges them: survey files with the verdicts they must get, the source beside each
//! in `tests/cases/expected.json`. Each file once misled or could not be written down.
#![allow(clippy::unwrap_used)]

use std::collections::BTreeSet;
use std::path::Path;

use circuits::{Tables, check_board};
use serde_json::Value;
use survey::{Check, file};

/// Numbers written in an inequality.
fn numbers(check: &Check) -> Vec<f64> {
    check
        .inequality
        .words()
        .replace("1.45 Iz", "")
        .split(|letter: char| !(letter.is_ascii_digit() || letter == '.'))
        .filter_map(|one| one.parse().ok())
        .collect()
}

/// What is wrong with the checks, against one expectation; nothing where all is as it should be.
fn against(checks: &[Check], want: &Value) -> Vec<String> {
    let rule = want["rule"].as_str().unwrap();
    let of_rule: Vec<&Check> = checks.iter().filter(|check| check.rule == rule).collect();
    let mut wrong = Vec::new();
    if want["absent"] == true {
        if !of_rule.is_empty() {
            wrong.push(format!("{rule} should not speak: {of_rule:?}"));
        }
        return wrong;
    }
    let verdict = want["verdict"].as_str();
    let found: Vec<&Check> = of_rule
        .iter()
        .copied()
        .filter(|check| verdict.is_none_or(|verdict| format!("{:?}", check.verdict) == verdict))
        .collect();
    let least = want["count"].as_u64().unwrap_or(1);
    if (found.len() as u64) < least {
        wrong.push(format!("{rule}: {least} of {verdict:?} wanted, there is {of_rule:#?}"));
        return wrong;
    }
    if let Some(never) = want["never"].as_str() {
        wrong.extend(
            found.iter().filter(|check| format!("{:?}", check.verdict) == never).map(|check| format!("{check:?}")),
        );
    }
    for number in want["numbers"].as_array().into_iter().flatten().filter_map(Value::as_f64) {
        // Shown to three or four figures.
        let near = |one: &f64| (one - number).abs() <= 0.005 * number;
        if !found.iter().any(|check| numbers(check).iter().any(near)) {
            wrong.push(format!(
                "{rule}: {number} is not in {:?}",
                found.iter().map(|one| &one.inequality).collect::<Vec<_>>()
            ));
        }
    }
    if let Some(least) = want["least"].as_f64()
        && !found.iter().all(|check| numbers(check).first().is_some_and(|one| *one >= least * 0.997))
    {
        wrong.push(format!(
            "{rule}: {:?} is below {least}",
            found.iter().map(|one| &one.inequality).collect::<Vec<_>>()
        ));
    }
    if let Some(end) = want["next"].as_str()
        && !found.iter().any(|check| check.next.iter().any(|next| next.path.ends_with(end)))
    {
        wrong.push(format!("{rule}: no reading of {end} is named in {found:#?}"));
    }
    wrong
}

#[test]
fn every_case_gets_its_verdicts() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/cases");
    let expected: Vec<Value> =
        serde_json::from_str(&std::fs::read_to_string(folder.join("expected.json")).unwrap()).unwrap();
    let tables = Tables::shipped().unwrap();
    let mut wrong = Vec::new();
    let mut read = BTreeSet::from(["expected.json".to_owned()]);
    for case in &expected {
        let name = case["file"].as_str().unwrap();
        assert!(case["source"].as_str().is_some_and(|source| source.len() > 20), "{name} names no source");
        assert!(!case["expect"].as_array().unwrap().is_empty(), "{name} expects nothing");
        read.insert(name.to_owned());
        let board = match file::read(&std::fs::read_to_string(folder.join(name)).unwrap()) {
            Ok(survey) => survey.board,
            Err(problems) => panic!("{name} is refused: {problems:#?}"),
        };
        let checks = check_board(&board, &tables);
        for want in case["expect"].as_array().unwrap() {
            wrong.extend(against(&checks, want).into_iter().map(|words| format!("{name}: {words}")));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    let there: BTreeSet<String> =
        std::fs::read_dir(&folder).unwrap().map(|one| one.unwrap().file_name().into_string().unwrap()).collect();
    assert_eq!(there, read, "a file without expectations, or expectations without a file");
}
