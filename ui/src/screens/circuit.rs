//! One circuit: load, device, cable, readings, terminals, and its checks.

use leptos::prelude::*;
use serde_json::{Value, json};
use survey::field::Section;
use survey::ids::{CableId, CircuitId, DeviceId};
use survey::intent::Intent;
use survey::{Cable, Circuit, Device, Load, PoleAt, Subject, Tests};

use crate::parts::board_drawing::free_poles;
use crate::parts::checks::{Cautions, badge, card, counts};
use crate::parts::faults::TimeCurrent;
use crate::parts::plain::{ChoiceField, PickField, SwitchField, TextField};
use crate::parts::surveyed::rows;
use crate::parts::weigh::{SizeCable, Try};
use crate::route::Part;
use crate::sheet;
use crate::state::app;
use crate::words::{t, tr};

/// The device and the cable of a circuit.
type Records = (Option<DeviceId>, Option<CableId>);

/// The editor of one circuit.
#[component]
pub fn CircuitScreen(id: CircuitId) -> impl IntoView {
    let app = app();
    // None until the board is there; then whether the circuit is.
    let records: Memo<Option<Option<Records>>> = Memo::new(move |_| {
        app.of_view(|view| {
            let circuit = sheet::one(&view.board, "circuits", id)?;
            let device = sheet::named(&view.board, "devices", circuit, "device");
            Some((device, sheet::named(&view.board, "cables", circuit, "cable")))
        })
    });
    move || {
        Some(match records.get()? {
            None => view! {
                <div class="box narrow">
                    <p>{t("ui-circuit-removed")}</p>
                    <a class="button" href=app.href(Part::Drawing)>{t("ui-back-to-board")}</a>
                </div>
            }
            .into_any(),
            Some((device, cable)) => editor(id, device, cable),
        })
    }
}

fn editor(id: CircuitId, device: Option<DeviceId>, cable: Option<CableId>) -> AnyView {
    let app = app();
    let base = format!("/circuits/{id}");
    let of = move |field: &str| format!("/circuits/{id}/{field}");
    let verdict = Memo::new(move |_| {
        app.of_view(|view| view.rows.iter().find(|row| row.id == id).and_then(|row| row.verdict)).flatten()
    });
    let title = Memo::new(move |_| app.circuit_name(id));
    let poles = Memo::new(move |_| {
        app.of_view(|view| view.rows.iter().find(|row| row.id == id).map(|row| row.poles.clone()))
            .flatten()
            .unwrap_or_default()
    });
    let jump = |section: &'static str, words: &'static str| {
        // A link would change the address, which says which screen is shown.
        let go = move |_| {
            let found = web_sys::window()
                .and_then(|window| window.document())
                .and_then(|document| document.get_element_by_id(section));
            if let Some(element) = found {
                element.scroll_into_view();
            }
        };
        view! { <button type="button" data-section=section on:click=go>{words}</button> }
    };
    view! {
        <div class="row spread head">
            <h2>{move || tr("ui-circuit-named", &[("circuit", title.get().into())])}</h2>
            <span class="row">
                <span>{poles}</span>
                {move || badge(verdict.get())}
            </span>
        </div>
        <div class="row sections" role="group" aria-label=t("ui-circuit-sections")>
            {jump("section-checks", t("ui-checks"))}
            {jump("section-circuit", t("ui-circuit"))}
            {jump("section-device", t("ui-circuit-device"))}
            {jump("section-cable", t("ui-circuit-cable"))}
            {jump("section-readings", t("ui-circuit-readings"))}
            {jump("section-terminals", t("ui-circuit-terminals"))}
        </div>
        <div class="columns editor">
            <section class="side" id="section-checks" aria-label=t("ui-checks")>
                <CircuitChecks id />
                <Try device cable />
                <TimeCurrent circuit=id />
            </section>
            <div>
                <section class="box" id="section-circuit">
                    <h3>{t("ui-circuit-load")}</h3>
                    <TextField path=of("description") />
                    <TextField path=of("number") />
                    <ChoiceField path=of("kind") />
                    {rows(&base, Circuit::FIELDS, Section::First)}
                    {rows(&of("load"), Load::FIELDS, Section::First)}
                    <details data-open="load-more">
                        <summary>{t("ui-circuit-more-load")}</summary>
                        {rows(&of("load"), Load::FIELDS, Section::More)}
                    </details>
                </section>
                {device.map(device_section)}
                {cable.map(|cable| cable_section(cable, t("ui-circuit-cable"), Some(id)))}
                <section class="box" id="section-readings">
                    <h3>{t("ui-circuit-readings")}</h3>
                    {rows(&of("tests"), Tests::FIELDS, Section::First)}
                </section>
                {terminal_section(id)}
                {place_section(id, device)}
            </div>
        </div>
    }
    .into_any()
}

#[component]
fn CircuitChecks(id: CircuitId) -> impl IntoView {
    let app = app();
    let checks = Memo::new(move |_| {
        app.of_view(|view| {
            let mut own: Vec<_> =
                view.checks.iter().filter(|check| check.subject == Subject::Circuit(id)).cloned().collect();
            own.sort_by_key(|check| check.verdict);
            own
        })
        .unwrap_or_default()
    });
    view! {
        <h3 aria-live="polite">
            {move || {
                let [fails, advised, undecided, holds] = checks.with(|checks| counts(checks)).map(|(_, count)| count);
                let counts = [
                    ("fails", fails.into()),
                    ("advised", advised.into()),
                    ("undecided", undecided.into()),
                    ("holds", holds.into()),
                ];
                tr("ui-circuit-checks", &counts)
            }}
        </h3>
        <Cautions of=survey::Outlet::Board />
        <div class="cards">
            {move || checks.get().into_iter().map(|check| card(check, false)).collect_view()}
        </div>
    }
    .into_any()
}

fn device_section(id: DeviceId) -> AnyView {
    let base = format!("/devices/{id}");
    let of = move |field: &str| format!("/devices/{id}/{field}");
    view! {
        <section class="box" id="section-device">
            <h3>{t("ui-circuit-device")}</h3>
            <ChoiceField path=of("kind") />
            <ChoiceField path=of("poles") />
            {rows(&base, Device::FIELDS, Section::First)}
            <details data-open="device-more">
                <summary>{t("ui-circuit-more-device")}</summary>
                {rows(&base, Device::FIELDS, Section::More)}
            </details>
        </section>
    }
    .into_any()
}

/// The fields of a cable; of a circuit's cable the size can be worked out.
pub fn cable_section(id: CableId, title: &'static str, circuit: Option<CircuitId>) -> AnyView {
    let base = format!("/cables/{id}");
    view! {
        <section class="box" id="section-cable">
            <h3>{title}</h3>
            {rows(&base, Cable::FIELDS, Section::Size)}
            {circuit.map(|circuit| view! { <SizeCable circuit /> })}
            {rows(&base, Cable::FIELDS, Section::First)}
            <details data-open="cable-more">
                <summary>{t("ui-circuit-more-cable")}</summary>
                {rows(&base, Cable::FIELDS, Section::More)}
            </details>
        </section>
    }
    .into_any()
}

fn terminal_section(id: CircuitId) -> AnyView {
    let app = app();
    let of = move |field: &str| format!("/circuits/{id}/{field}");
    let list = |neutral: bool| {
        Signal::derive(move || {
            let mut list = if neutral {
                vec![
                    (Value::Null, t("ui-circuit-first-pole-terminal").to_owned()),
                    (json!(""), t("ui-circuit-none").to_owned()),
                ]
            } else {
                vec![(json!([]), t("ui-circuit-first-pole-terminal").to_owned())]
            };
            let more = app.of_view(|view| {
                let Some(drawing) = &view.drawing else { return Vec::new() };
                let bar = if neutral { &drawing.neutrals } else { &drawing.earths };
                bar.iter()
                    .map(|terminal| {
                        let words = match terminal.circuit {
                            Some(user) if user != id => {
                                tr("ui-circuit-terminal-used", &[("terminal", terminal.name.as_str().into())])
                            }
                            _ => terminal.name.clone(),
                        };
                        (if neutral { json!(terminal.name) } else { json!([terminal.name]) }, words)
                    })
                    .collect()
            });
            list.extend(more.unwrap_or_default());
            if !neutral {
                // Two earths are written by hand elsewhere or derived; they are shown as they are.
                let stored = app.at(&of("earth_terminals"), Value::clone);
                if stored.as_array().is_some_and(|names| names.len() > 1) {
                    let words = stored.as_array().into_iter().flatten().filter_map(Value::as_str).collect::<Vec<_>>();
                    list.push((stored.clone(), words.join(", ")));
                }
            }
            list
        })
    };
    let uses = Memo::new(move |_| {
        app.of_view(|view| {
            view.rows.iter().find(|row| row.id == id).map(|row| {
                let none = t("ui-circuit-none");
                let neutral = if row.neutral.is_empty() { none } else { row.neutral.as_str() };
                let earth = if row.earth.is_empty() { none } else { row.earth.as_str() };
                tr("ui-circuit-terminals-used", &[("neutral", neutral.into()), ("earth", earth.into())])
            })
        })
        .flatten()
    });
    view! {
        <section class="box" id="section-terminals">
            <h3>{t("ui-circuit-terminals")}</h3>
            <p data-terminals="">{uses}</p>
            <PickField path=of("neutral_terminal") list=list(true) />
            <PickField path=of("earth_terminals") list=list(false) />
            <SwitchField
                path=of("high_protective_current")
            />
        </section>
    }
    .into_any()
}

fn place_section(id: CircuitId, device: Option<DeviceId>) -> AnyView {
    let app = app();
    let free: Memo<Vec<PoleAt>> =
        Memo::new(move |_| app.of_view(|view| view.drawing.as_ref().map(free_poles)).flatten().unwrap_or_default());
    let to = RwSignal::new(String::new());
    let picker = device.map(|device| {
        view! {
            <div class="field">
                <label class="name" for="move-to">{t("ui-circuit-move-to")}</label>
                <div class="row nowrap">
                    <select id="move-to" data-move="to" on:change=move |event| to.set(event_target_value(&event))>
                        <option value="">{t("ui-circuit-stay")}</option>
                        {move || {
                            free.get()
                                .into_iter()
                                .map(|pole| view! { <option value=pole.to_string()>{pole.to_string()}</option> })
                                .collect_view()
                        }}
                    </select>
                    <button
                        type="button"
                        data-move="go"
                        disabled=move || to.with(String::is_empty)
                        on:click=move |_| {
                            if let Ok(to) = to.get_untracked().parse() {
                                app.edit(Intent::MoveDevice { device, to });
                            }
                        }
                    >
                        {t("ui-circuit-move")}
                    </button>
                </div>
            </div>
        }
    });
    let remove = move |_| {
        app.edit_then(Intent::RemoveCircuit { circuit: id }, move |result| {
            if result.is_ok() {
                app.go_to(Part::Drawing);
            }
        });
    };
    view! {
        <section class="box">
            <h3>{t("ui-circuit-place")}</h3>
            {picker}
            <button type="button" class="danger" data-remove="circuit" on:click=remove>
                {t("ui-circuit-remove")}
            </button>
            <p class="hint">{t("ui-circuit-remove-what")}</p>
        </section>
    }
    .into_any()
}
