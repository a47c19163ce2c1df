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
                    <p>"This circuit was removed. Undo brings it back."</p>
                    <a class="button" href=app.href(Part::Drawing)>"Back to the board"</a>
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
            <h2>{move || format!("Circuit {}", title.get())}</h2>
            <span class="row">
                <span>{poles}</span>
                {move || badge(verdict.get())}
            </span>
        </div>
        <div class="row sections" role="group" aria-label="Sections">
            {jump("section-checks", "Checks")}
            {jump("section-circuit", "Circuit")}
            {jump("section-device", "Device")}
            {jump("section-cable", "Cable")}
            {jump("section-readings", "Readings")}
            {jump("section-terminals", "Terminals")}
        </div>
        <div class="columns editor">
            <section class="side" id="section-checks" aria-label="Checks">
                <CircuitChecks id />
                <Try device cable />
                <TimeCurrent circuit=id />
            </section>
            <div>
                <section class="box" id="section-circuit">
                    <h3>"Circuit and load"</h3>
                    <TextField path=of("description") />
                    <TextField path=of("number") />
                    <ChoiceField path=of("kind") />
                    {rows(&base, Circuit::FIELDS, Section::First)}
                    {rows(&of("load"), Load::FIELDS, Section::First)}
                    <details data-open="load-more">
                        <summary>"More of the load"</summary>
                        {rows(&of("load"), Load::FIELDS, Section::More)}
                    </details>
                </section>
                {device.map(device_section)}
                {cable.map(|cable| cable_section(cable, "Cable", Some(id)))}
                <section class="box" id="section-readings">
                    <h3>"Readings"</h3>
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
                let beyond = if advised > 0 { format!("{advised} beyond advice, ") } else { String::new() };
                format!("Checks: {fails} fail, {beyond}{undecided} undecided, {holds} hold")
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
            <h3>"Device"</h3>
            <ChoiceField path=of("kind") />
            <ChoiceField path=of("poles") />
            {rows(&base, Device::FIELDS, Section::First)}
            <details data-open="device-more">
                <summary>"More of the device"</summary>
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
                <summary>"More of the cable"</summary>
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
                vec![(Value::Null, "that of its first pole".to_owned()), (json!(""), "none".to_owned())]
            } else {
                vec![(json!([]), "that of its first pole".to_owned())]
            };
            let more = app.of_view(|view| {
                let Some(drawing) = &view.drawing else { return Vec::new() };
                let bar = if neutral { &drawing.neutrals } else { &drawing.earths };
                bar.iter()
                    .map(|terminal| {
                        let words = match terminal.circuit {
                            Some(user) if user != id => format!("{} (used)", terminal.name),
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
                    list.push((stored.clone(), words.join(" and ")));
                }
            }
            list
        })
    };
    let uses = Memo::new(move |_| {
        app.of_view(|view| {
            view.rows.iter().find(|row| row.id == id).map(|row| {
                let neutral = if row.neutral.is_empty() { "none" } else { row.neutral.as_str() };
                let earth = if row.earth.is_empty() { "none" } else { row.earth.as_str() };
                format!("Neutral terminal: {neutral}. Earth terminals: {earth}.")
            })
        })
        .flatten()
    });
    view! {
        <section class="box" id="section-terminals">
            <h3>"Terminals"</h3>
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
                <label class="name" for="move-to">"Move to pole"</label>
                <div class="row nowrap">
                    <select id="move-to" data-move="to" on:change=move |event| to.set(event_target_value(&event))>
                        <option value="">"stay"</option>
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
                        "Move"
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
            <h3>"Place"</h3>
            {picker}
            <button type="button" class="danger" data-remove="circuit" on:click=remove>
                "Remove this circuit"
            </button>
            <p class="hint">"Its device and cable go with it. Undo brings them back."</p>
        </section>
    }
    .into_any()
}
