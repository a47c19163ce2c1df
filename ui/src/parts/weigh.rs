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
                    let helps = match (reading.checks, reading.circuits) {
                        (1, _) => "helps 1 check".to_owned(),
                        (checks, 0 | 1) => format!("helps {checks} checks"),
                        (checks, circuits) => format!("helps {checks} checks of {circuits} circuits"),
                    };
                    view! {
                        <li>
                            <button type="button" class="line" data-reading=reading.path on:click=move |_| app.jump(&path)>
                                <strong>{capital(&reading.what)}</strong>
                                <span class="soft">{format!("{} · {helps}", capital(&reading.label))}</span>
                            </button>
                        </li>
                    }
                })
                .collect_view();
            view! {
                <section class="box" aria-label="Readings to take next" data-readings="">
                    <h3>"Readings to take next"</h3>
                    <p class="hint">"Those that settle the most come first."</p>
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
                        Some("holds") => "✓ holds",
                        Some("fails") => "! no",
                        _ => "? only if",
                    };
                    let name = match row["cpc"].as_str() {
                        Some(cpc) => format!("{} with {cpc}", word(row, "size")),
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
                            "With no cable that is made does every check hold: take the readings named, or look at load, method or length."
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
                            {format!("Decide {size}")}
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
            <button type="button" data-size="ask" on:click=ask>"Find the smallest cable that holds"</button>
            {shown}
        </div>
    }
    .into_any()
}

/// Cross-sections offered, IEC 60228.
const SIZES: [&str; 16] =
    ["1", "1.5", "2.5", "4", "6", "10", "16", "25", "35", "50", "70", "95", "120", "150", "185", "240"];
/// Rated currents offered, IEC 60898-1.
const RATINGS: [&str; 12] = ["6", "10", "16", "20", "25", "32", "40", "50", "63", "80", "100", "125"];

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
            list.extend(SIZES.iter().map(|size| {
                (format!("Cable {size} mm²"), decided(format!("/cables/{cable}/size"), format!("{size} mm2")))
            }));
        }
        if let Some(device) = device {
            list.extend(RATINGS.iter().map(|rated| {
                (format!("Device {rated} A"), decided(format!("/devices/{device}/rated"), format!("{rated} A")))
            }));
            list.extend(Curve::ALL.iter().map(|curve| {
                (format!("Type {}", curve.words()), decided(format!("/devices/{device}/curve"), curve.key()))
            }));
            let poles = free.get();
            list.extend(poles.iter().map(|to| (format!("Move to {to}"), Intent::MoveDevice { device, to: *to })));
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
            let tally = |key: &str| {
                let count = |index: usize| reply[key][index].as_u64().unwrap_or_default();
                format!("{} fail, {} undecided, {} hold", count(0), count(1), count(2))
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
                <p data-whatif="tally">{format!("Now: {}. Then: {}.", tally("before"), tally("after"))}</p>
                {nothing.then_some("No check would change.")}
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
                    "Decide so"
                </button>
            }
        })
    };
    view! {
        <details class="box" data-open="what-if">
            <summary>"What would a change do?"</summary>
            <div class="field">
                <label class="name" for="what-if">"Try"</label>
                <select
                    id="what-if"
                    data-whatif="pick"
                    on:change=move |event| {
                        picked.set(event_target_value(&event).parse().ok());
                        ask();
                    }
                >
                    <option value="">"pick a change"</option>
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
            <p class="hint">"Nothing is saved until you decide so."</p>
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
                format!("Proven {}: no allocation loads the lines more evenly.", word(&reply, "rests_on"))
            } else {
                format!(
                    "Not proven the best: {}, no allocation comes below {} on the largest line.",
                    word(&reply, "rests_on"),
                    word(&reply, "bound")
                )
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
                        "Enter these moves"
                    </button>
                }
            });
            let even = act.is_none().then_some(match reply["proven"] == true {
                true => "Nothing need move.",
                false => "No better allocation was found.",
            });
            view! {
                <table data-balance="table">
                    <tbody>
                        <tr><td></td><th scope="col">"now"</th><th scope="col">"then"</th></tr>
                        {row("Largest line", word(&reply["before"], "largest"), word(&reply["after"], "largest"))}
                        {row("Neutral", word(&reply["before"], "neutral"), word(&reply["after"], "neutral"))}
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
            <summary>"Even out the lines"</summary>
            <button type="button" data-balance="ask" on:click=ask>"Work it out"</button>
            <div aria-live="polite">{shown}</div>
        </details>
    }
    .into_any()
}
