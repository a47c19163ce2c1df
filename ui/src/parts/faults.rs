//! What a fault draws, place by place, and which device opens first.

use leptos::prelude::*;
use serde_json::Value;
use survey::ids::CircuitId;
use wasm_bindgen::JsValue;

use crate::files;
use crate::sheet::{each, word, words};
use crate::state::app;
use crate::words::{t, tr};

/// Fault currents from the origin to the ends of the circuits.
#[component]
pub fn FaultTable() -> impl IntoView {
    let app = app();
    let found: RwSignal<Option<Value>> = RwSignal::new(None);
    let ask = move |_| {
        let Some(board) = app.board() else { return };
        app.ask_json(api::FaultCurrents { board }, move |reply| drop(found.try_set(Some(reply))));
    };
    let shown = move || {
        found.get().map(|reply| {
            let rows = each(&reply, "rows")
                .map(|row| {
                    let cell = |key: &str| view! { <td>{Some(word(row, key)).filter(|text| !text.is_empty()).unwrap_or("–".to_owned())}</td> };
                    let next = words(row, "next").join("; ");
                    view! {
                        <tr data-fault="">
                            <th scope="row">{word(row, "place")}</th>
                            {["three_phase", "line_line", "line_neutral", "line_earth"].map(cell)}
                            <td class="soft">{next}</td>
                        </tr>
                    }
                })
                .collect_view();
            let notes = words(&reply, "notes").into_iter().map(|note| view! { <p class="hint">{note}</p> }).collect_view();
            let from = word(&reply, "from");
            view! {
                {(!from.is_empty()).then(|| view! { <p>{tr("ui-faults-from", &[("from", from.into())])}</p> })}
                <div class="scroll">
                    <table>
                        <thead>
                            <tr>
                                <td></td>
                                {[t("ui-faults-three-phase"), t("ui-faults-line-line"), t("ui-faults-line-neutral"), t("ui-faults-line-earth"), t("ui-faults-more")]
                                    .map(|name| view! { <th scope="col">{name}</th> })}
                            </tr>
                        </thead>
                        <tbody>{rows}</tbody>
                    </table>
                </div>
                {notes}
            }
        })
    };
    view! {
        <section class="box">
            <h3>{t("ui-faults")}</h3>
            <button type="button" data-faults="ask" on:click=ask>{t("ui-faults-ask")}</button>
            <div aria-live="polite">{shown}</div>
        </section>
    }
    .into_any()
}

/// Time-current bands of a circuit's device and the one upstream.
#[component]
pub fn TimeCurrent(circuit: CircuitId) -> impl IntoView {
    let app = app();
    let drawing: RwSignal<Option<String>> = RwSignal::new(None);
    let ask = move |_| {
        let Some(board) = app.board() else { return };
        app.ask_json(api::TimeCurrent { board, circuit }, move |reply| {
            let _ = drawing.try_set(reply.as_str().map(str::to_owned));
        });
    };
    let shown = move || {
        drawing.get().map(|svg| {
            let url = files::object_url(&JsValue::from_str(&svg), "image/svg+xml").unwrap_or_default();
            let held = url.clone();
            on_cleanup(move || files::release(&held));
            view! {
                <img class="page" data-time-current="" src=url alt=t("ui-faults-bands") />
                <p class="hint">
                    {t("ui-faults-bands-what")}
                </p>
            }
        })
    };
    view! {
        <section class="box">
            <h3>{t("ui-faults-first")}</h3>
            <button type="button" data-time-current="ask" on:click=ask>{t("ui-faults-draw")}</button>
            <div aria-live="polite">{shown}</div>
        </section>
    }
    .into_any()
}
