//! Weighing before deciding: readings to take next, cable sizes tried, what a change would do, even loading.

use leptos::prelude::*;
use serde_json::{Value, json};
use survey::ids::{CableId, CircuitId, DeviceId};
use survey::intent::Intent;
use survey::{Curve, Verdict};

use crate::parts::board_drawing::free_poles;
use crate::parts::checks::badge;
use crate::sheet::{each, intent, word, words};
use crate::state::{App, app, capital};
use crate::words::{said, t, tr};

/// The readings that settle the most, on the whole board.
#[component]
pub fn TakeNext() -> impl IntoView {
    let app = app();
    let readings = Memo::new(move |_| app.of_view(|view| view.readings.clone()).unwrap_or_default());
    move || {
        let readings = readings.get();
        (!readings.is_empty()).then(|| {
            let rows = readings
                .into_iter()
                .map(|reading| {
                    let path = reading.path.clone();
                    let helps = tr(
                        "ui-readings-helps",
                        &[
                            ("label", capital(&reading.label).into()),
                            ("checks", reading.checks.into()),
                            ("circuits", reading.circuits.into()),
                        ],
                    );
                    view! {
                        <li>
                            <button type="button" class="line" data-reading=reading.path on:click=move |_| app.jump(&path)>
                                <strong>{capital(&reading.what)}</strong>
                                <span class="soft">{helps}</span>
                            </button>
                        </li>
                    }
                })
                .collect_view();
            view! {
                <section class="box" aria-label=t("ui-readings") data-readings="">
                    <h3>{t("ui-readings")}</h3>
                    <p class="hint">{t("ui-readings-order")}</p>
                    <ol class="plain-list">{rows}</ol>
                </section>
            }
        })
    }
}

/// Sends edits one after another; each can be undone by itself.
fn do_all(app: App, intents: Vec<Value>) {
    for intent in intents {
        app.edit_ready(intent, |_| ());
    }
}

/// The smallest cable with which every check holds, and what each smaller one lacks.
#[component]
pub fn SizeCable(circuit: CircuitId) -> impl IntoView {
    let app = app();
    let found: RwSignal<Option<Value>> = RwSignal::new(None);
    let ask = move |_| {
        let Some(board) = app.board() else { return };
        app.ask_json(api::SizeCable { board, circuit }, move |reply| drop(found.try_set(Some(reply))));
    };
    let shown = move || {
        found.get().map(|reply| {
            let rows = each(&reply, "tried")
                .map(|row| {
                    let verdict = match row["verdict"].as_str() {
                        Some("holds") => t("ui-size-holds"),
                        Some("fails") => t("ui-size-no"),
                        _ => t("ui-size-only-if"),
                    };
                    let name = match row["cpc"].as_str() {
                        Some(cpc) => tr("ui-size-with", &[("size", word(row, "size").into()), ("cpc", cpc.into())]),
                        None => word(row, "size"),
                    };
                    let next = words(row, "next").into_iter().map(|next| format!("{}.", capital(&next)));
                    let why = words(row, "against").into_iter().chain(words(row, "open")).chain(next);
                    let why = why.map(|why| view! { <p>{why}</p> }).collect_view();
                    view! {
                        <tr>
                            <th scope="row">{name}</th>
                            <td>{verdict}</td>
                            <td>{why}</td>
                        </tr>
                    }
                })
                .collect_view();
            let intents: Vec<Value> = each(&reply, "intents").cloned().collect();
            let use_it = reply["chosen"].as_str().map(str::to_owned).map_or_else(
                || {
                    view! {
                        <p class="said doubt">
                            {t("ui-size-none")}
                        </p>
                    }
                    .into_any()
                },
                |size| {
                    view! {
                        <button
                            type="button"
                            class="main"
                            data-size="use"
                            on:click=move |_| {
                                do_all(app, intents.clone());
                                found.set(None);
                            }
                        >
                            {tr("ui-size-decide", &[("size", size.into())])}
                        </button>
                    }
                    .into_any()
                },
            );
            view! {
                <table class="sizes" data-sizes=""><tbody>{rows}</tbody></table>
                {use_it}
            }
        })
    };
    view! {
        <div>
            <button type="button" data-size="ask" on:click=ask>{t("ui-size")}</button>
            {shown}
        </div>
    }
    .into_any()
}

/// Values offered for a field.
fn offers(path: &str) -> &'static [&'static str] {
    survey::field::at(path).map_or(&[], |field| field.offers)
}

fn decided(path: String, value: impl Into<Value>) -> Intent {
    Intent::Set { path, value: json!({ "known": "decided", "value": value.into() }) }
}

/// A check's verdict; none where there is no check.
fn verdict(check: &Value) -> Option<Verdict> {
    Verdict::ALL.into_iter().find(|verdict| check["verdict"].as_str() == Some(verdict.key()))
}

/// What a change of cable, device or pole would do to the checks.
#[component]
pub fn Try(device: Option<DeviceId>, cable: Option<CableId>) -> impl IntoView {
    let app = app();
    let free =
        Memo::new(move |_| app.of_view(|view| view.drawing.as_ref().map(free_poles)).flatten().unwrap_or_default());
    let options = Memo::new(move |_| {
        let mut list: Vec<(String, Intent)> = Vec::new();
        if let Some(cable) = cable {
            list.extend(offers(&format!("/cables/{cable}/size")).iter().map(|size| {
                (
                    tr("ui-try-cable", &[("size", (*size).into())]),
                    decided(format!("/cables/{cable}/size"), format!("{size} mm2")),
                )
            }));
        }
        if let Some(device) = device {
            list.extend(offers(&format!("/devices/{device}/rated")).iter().map(|rated| {
                (
                    tr("ui-try-device", &[("rated", (*rated).into())]),
                    decided(format!("/devices/{device}/rated"), format!("{rated} A")),
                )
            }));
            list.extend(Curve::ALL.iter().map(|curve| {
                (
                    tr("ui-try-curve", &[("curve", said(curve.words()).into())]),
                    decided(format!("/devices/{device}/curve"), curve.key()),
                )
            }));
            let poles = free.get();
            list.extend(poles.iter().map(|to| {
                (tr("ui-try-move", &[("pole", to.to_string().into())]), Intent::MoveDevice { device, to: *to })
            }));
        }
        list
    });
    let picked: RwSignal<Option<usize>> = RwSignal::new(None);
    let found: RwSignal<Option<Value>> = RwSignal::new(None);
    let chosen = move || {
        picked
            .get_untracked()
            .and_then(|index| options.with_untracked(|list| list.get(index).map(|(_, one)| one.clone())))
    };
    let ask = move || {
        found.set(None);
        let (Some(board), Some(intent)) = (app.board(), chosen()) else { return };
        app.ask_json(api::WhatIf { board, intents: vec![intent] }, move |reply| drop(found.try_set(Some(reply))));
    };
    let shown = move || {
        found.get().map(|reply| {
            // In the order that the reply has them.
            let tally = |message: &'static str, key: &str| {
                let count = |index: usize| reply[key][index].clone();
                let counts =
                    [("fails", count(0)), ("advised", count(1)), ("undecided", count(2)), ("holds", count(3))];
                tr(message, &counts)
            };
            let nothing = each(&reply, "changes").next().is_none();
            let rows = each(&reply, "changes")
                .map(|change| {
                    let (before, after) = (verdict(&change["before"]), verdict(&change["after"]));
                    let check = if change["after"].is_object() { &change["after"] } else { &change["before"] };
                    let worse = after < before && after != Some(Verdict::Holds);
                    view! {
                        <li
                            class=if change["turns"] == true && worse { "said bad" } else { "said" }
                            data-change=word(check, "rule")
                        >
                            <span class="row">
                                {badge(before)} " → " {badge(after)} <strong>{capital(&word(change, "subject"))}</strong>
                            </span>
                            <p>{word(check, "sentence")}</p>
                        </li>
                    }
                })
                .collect_view();
            view! {
                <p data-whatif="tally">{tally("ui-try-before", "before")} " " {tally("ui-try-after", "after")}</p>
                {nothing.then_some(t("ui-try-nothing"))}
                <ul class="plain-list">{rows}</ul>
                <button
                    type="button"
                    class="main"
                    data-whatif="do"
                    on:click=move |_| {
                        if let Some(intent) = chosen() {
                            app.edit(intent);
                        }
                        found.set(None);
                    }
                >
                    {t("ui-try-decide")}
                </button>
            }
        })
    };
    view! {
        <details class="box" data-open="what-if">
            <summary>{t("ui-try")}</summary>
            <div class="field">
                <label class="name" for="what-if">{t("ui-try-pick")}</label>
                <select
                    id="what-if"
                    data-whatif="pick"
                    on:change=move |event| {
                        picked.set(event_target_value(&event).parse().ok());
                        ask();
                    }
                >
                    <option value="">{t("ui-try-pick-one")}</option>
                    {move || {
                        options
                            .get()
                            .into_iter()
                            .enumerate()
                            .map(|(index, (words, _))| view! { <option value=index.to_string()>{words}</option> })
                            .collect_view()
                    }}
                </select>
            </div>
            <p class="hint">{t("ui-try-unsaved")}</p>
            <div aria-live="polite">{shown}</div>
        </details>
    }
    .into_any()
}

/// An even loading of the lines, and the moves that lead to it.
#[component]
pub fn Balance() -> impl IntoView {
    let app = app();
    let found: RwSignal<Option<Value>> = RwSignal::new(None);
    let ask = move |_| {
        let Some(board) = app.board() else { return };
        let request = api::Allocate { board, fixed: vec![], together: vec![], apart: vec![] };
        app.ask_json(request, move |reply| drop(found.try_set(Some(reply))));
    };
    let shown = move || {
        found.get().map(|reply| {
            let row = |name: &'static str, before: String, after: String| {
                view! { <tr><th scope="row">{name}</th><td>{before}</td><td>{after}</td></tr> }
            };
            let proof = if reply["proven"] == true {
                tr("ui-balance-proven", &[("rests", word(&reply, "rests_on").into())])
            } else {
                let rests = word(&reply, "rests_on");
                tr("ui-balance-not-proven", &[("rests", rests.into()), ("bound", word(&reply, "bound").into())])
            };
            let steps = words(&reply, "steps").into_iter().map(|step| view! { <li>{step}</li> }).collect_view();
            let cautions =
                words(&reply, "cautions").into_iter().map(|caution| view! { <p>{caution}</p> }).collect_view();
            let act = intent(&reply).map(|intent| {
                view! {
                    <aside class="cautions">{cautions}</aside>
                    <ol>{steps}</ol>
                    <button
                        type="button"
                        class="main"
                        data-balance="do"
                        on:click=move |_| {
                            app.edit_ready(intent.clone(), |_| ());
                            found.set(None);
                        }
                    >
                        {t("ui-balance-enter")}
                    </button>
                }
            });
            let even = act.is_none().then_some(match reply["proven"] == true {
                true => t("ui-balance-even"),
                false => t("ui-balance-none-better"),
            });
            view! {
                <table data-balance="table">
                    <tbody>
                        <tr><td></td><th scope="col">{t("ui-now")}</th><th scope="col">{t("ui-then")}</th></tr>
                        {row(t("ui-balance-largest"), word(&reply["before"], "largest"), word(&reply["after"], "largest"))}
                        {row(t("ui-balance-neutral"), word(&reply["before"], "neutral"), word(&reply["after"], "neutral"))}
                    </tbody>
                </table>
                <p>{proof}</p>
                {act}
                {even}
            }
        })
    };
    view! {
        <details class="box" data-open="balance">
            <summary>{t("ui-balance")}</summary>
            <button type="button" data-balance="ask" on:click=ask>{t("ui-balance-ask")}</button>
            <div aria-live="polite">{shown}</div>
        </details>
    }
    .into_any()
}
