//! Checks as a person reads them, and the cautions that go with every verdict.

use leptos::prelude::*;
use survey::{Check, Outlet, Subject, Verdict, errand};

use crate::route::Part;
use crate::state::{app, capital, sign, verdict_key, verdict_words};
use crate::words::{said, t, tr, yes};

/// Sign and word of a verdict.
pub fn badge(verdict: Option<Verdict>) -> AnyView {
    let words = verdict_words(verdict);
    view! {
        <span class=format!("badge {}", verdict_key(verdict))>
            <span aria-hidden="true" class="sign">{sign(verdict)}</span>
            {words}
        </span>
    }
    .into_any()
}

/// One check: the sentence, what it rests on, what to read next.
pub fn card(check: Check, with_link: bool) -> AnyView {
    let app = app();
    let link = with_link.then(|| {
        let (part, words) = match check.subject {
            Subject::Circuit(id) => {
                (Part::Circuit(id), tr("ui-circuit-named", &[("circuit", app.circuit_name(id).into())]))
            }
            Subject::Plate(id) => (
                Part::Plate(Some(id)),
                app.of_view(|view| view.plates.iter().find(|plate| plate.id == id).map(|plate| capital(&plate.name)))
                    .flatten()
                    .unwrap_or_else(|| t("ui-gland-plate").to_owned()),
            ),
            Subject::Board => (Part::Supply, t("ui-board").to_owned()),
        };
        view! { <a class="about" href=app.href(part)>{words}</a> }
    });
    let next = (!check.next.is_empty()).then(|| {
        let own = matches!(check.subject, Subject::Circuit(_));
        let buttons = errand::grouped(&check.next)
            .into_iter()
            .map(|errand| {
                let path = errand.paths.first().cloned().unwrap_or_default();
                let share = (errand.settles * 100.0).round().min(100.0);
                let of = if own { String::new() } else { whom(&errand.paths) };
                let words = tr(
                    "ui-check-next",
                    &[
                        ("what", capital(&errand.what.words()).into()),
                        ("named", yes(!of.is_empty())),
                        ("circuits", of.into()),
                        ("worth", yes(share >= 1.0)),
                        ("share", share.into()),
                    ],
                );
                view! {
                    <button type="button" data-next=path.clone() on:click=move |_| app.jump(&path)>
                        {words}
                    </button>
                }
            })
            .collect_view();
        view! {
            <div class="next">
                <p>{t("ui-check-settle")}</p>
                <div class="row">{buttons}</div>
            </div>
        }
    });
    let inputs = check
        .inputs
        .into_iter()
        .map(|input| {
            let path = input.path.clone();
            let words = tr(
                "ui-check-input",
                &[
                    ("label", capital(&input.label.words()).into()),
                    ("value", input.value.to_string().into()),
                    ("known", said(input.known.words()).into()),
                ],
            );
            let own = path.starts_with('/');
            view! {
                <li>
                    {if own {
                        view! {
                            <button type="button" class="plain" on:click=move |_| app.jump(&path)>{words}</button>
                        }
                            .into_any()
                    } else {
                        words.into_any()
                    }}
                </li>
            }
        })
        .collect_view();
    view! {
        <article
            class=format!("check {}", verdict_key(Some(check.verdict)))
            data-rule=check.rule.to_string()
            data-verdict=check.verdict.key()
        >
            <div class="row spread">{badge(Some(check.verdict))} {link}</div>
            <p class="sentence">{check.sentence.to_string()}</p>
            {next}
            <details>
                <summary>{t("ui-check-rests")}</summary>
                <p class="inequality">{check.inequality.to_string()}</p>
                <p>{check.clause.to_string()}</p>
                {(!check.tables.is_empty()).then(|| view! { <p data-tables="">{tr("ui-check-tables", &[("tables", check.tables.to_string().into())])}</p> })}
                <ul class="inputs">{inputs}</ul>
            </details>
        </article>
    }
    .into_any()
}

/// The circuits that an errand concerns: "3L1, 3L2".
fn whom(paths: &[String]) -> String {
    let app = app();
    let mut names: Vec<String> = Vec::new();
    for path in paths {
        if let Part::Circuit(id) = app.part_of(path) {
            let name = app.of_view(|view| view.rows.iter().find(|row| row.id == id).map(|row| row.name.clone()));
            if let Some(name) = name.flatten().filter(|name| !names.contains(name)) {
                names.push(name);
            }
        }
    }
    names.join(", ")
}

/// How many of each verdict.
pub fn counts(checks: &[Check]) -> [(Verdict, usize); 4] {
    Verdict::ALL.map(|verdict| (verdict, checks.iter().filter(|check| check.verdict == verdict).count()))
}

/// The cautions owed on a screen, in full or the first with the rest to unfold.
#[component]
pub fn Cautions(
    /// Which screen it is.
    of: Outlet,
    /// All of them at once.
    #[prop(optional)]
    full: bool,
) -> impl IntoView {
    let app = app();
    move || {
        let cautions = app
            .about
            .with(|about| about.as_ref().and_then(|about| about.cautions.get(of.key()).cloned()))
            .unwrap_or_default();
        let mut rest = cautions.into_iter();
        let first = rest.next()?;
        let rest: Vec<_> = rest.map(|caution| view! { <p>{caution}</p> }).collect();
        let more = (!rest.is_empty()).then(|| {
            if full {
                rest.into_any()
            } else {
                view! { <details><summary>{t("ui-cautions-all")}</summary>{rest}</details> }.into_any()
            }
        });
        Some(view! {
            <aside class="cautions" aria-label=t("ui-cautions")>
                <p><span aria-hidden="true">"⚠ "</span>{first}</p>
                {more}
            </aside>
        })
    }
}
