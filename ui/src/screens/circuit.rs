//! One circuit: load, device, cable, readings, terminals, and its checks.

use leptos::prelude::*;
use serde_json::{Value, json};
use survey::ids::{CableId, CircuitId, DeviceId};
use survey::intent::Intent;
use survey::units::{
    Amps, AmpsSquaredSeconds, Celsius, KelvinMetresPerWatt, Metres, Millimetres, Ohms, Ratio, Seconds,
    SquareMillimetres, Watts,
};
use survey::{
    Construction, CpcForm, Curve, DeviceKind, EnergyClass, Formation, Insulation, Layout, LoadKind, Material, Method,
    PoleAt, Poles, RcdDelay, RcdType, ResidualForm, Subject, YesNo,
};

use crate::parts::board_drawing::free_poles;
use crate::parts::checks::{Cautions, badge, card, counts};
use crate::parts::faults::TimeCurrent;
use crate::parts::field::{Kind, choices, quantity};
use crate::parts::plain::{ChoiceField, PickField, SwitchField, TextField};
use crate::parts::surveyed::{Row, rows};
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
                        <TextField path=of("description") label="What it feeds" />
                        <TextField path=of("number") label="Number on the chart" hint="Empty: the pole it starts on." />
                        <ChoiceField path=of("kind") label="Kind of load" kind=choices!(LoadKind) />
                        {rows(&base, &[
    Row("ring", "Ring final circuit: both ends on the device", || choices!(YesNo)),
    Row("load/power", "Connected power", || quantity::<Watts>("kW")),
    Row("load/current", "Design current, where known directly", || quantity::<Amps>("A")),
    Row("load/power_factor", "Power factor", || quantity::<Ratio>("")),
    Row("load/efficiency", "Efficiency of a motor", || quantity::<Ratio>("")),
    Row("load/demand", "Demand factor", || quantity::<Ratio>("")),
    ])}
                        <details data-open="load-more">
                            <summary>{t("ui-circuit-more-load")}</summary>
                            {rows(&base, &[
    Row("load/leading", "Current leads the voltage", || choices!(YesNo)),
    Row("load/start", "Starting current of a motor, times its rated current", || quantity::<Ratio>("")),
    Row("load/third_harmonic", "Third harmonic, share of the line current", || quantity::<Ratio>("%")),
    Row("load/leakage", "Protective conductor current in normal use", || quantity::<Amps>("mA")),
    Row("load/residual_form", "Form of its earth fault current", || choices!(ResidualForm)),
    Row("load/dc_detection", "Charging point has 6 mA d.c. detection", || choices!(YesNo)),
    ])}
                        </details>
                    </section>
                    {device.map(device_section)}
                    {cable.map(|cable| cable_section(cable, t("ui-circuit-cable"), Some(id)))}
                    <section class="box" id="section-readings">
                        <h3>{t("ui-circuit-readings")}</h3>
                        {rows(&base, &[
    Row("tests/zs", "Zs at the far end", || quantity::<Ohms>("ohm")),
    Row("tests/r1_r2", "R1+R2", || quantity::<Ohms>("ohm")),
    Row("tests/ring_line", "Ring, line from end to end, r1", || quantity::<Ohms>("ohm")),
    Row("tests/ring_neutral", "Ring, neutral from end to end, rn", || quantity::<Ohms>("ohm")),
    Row("tests/ring_cpc", "Ring, protective conductor from end to end, r2", || quantity::<Ohms>("ohm")),
    Row("tests/insulation", "Insulation resistance, live to earth", || quantity::<Ohms>("Mohm")),
    ])}
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
            <ChoiceField path=of("kind") label="Kind of device" kind=choices!(DeviceKind) />
            <ChoiceField path=of("poles") label="Poles" kind=choices!(Poles) />
            {rows(&base, &[
Row("rated", "Rated current, In", || quantity::<Amps>("A")),
Row("curve", "Type", || choices!(Curve)),
Row("breaking", "Short-circuit capacity", || quantity::<Amps>("kA")),
Row("residual", "Residual current, IΔn", || quantity::<Amps>("mA")),
Row("rcd_type", "RCD type", || choices!(RcdType)),
])}
            <details data-open="device-more">
                <summary>{t("ui-circuit-more-device")}</summary>
                {rows(&base, &[
Row("delay", "RCD delay", || choices!(RcdDelay)),
Row("energy_class", "Energy-limiting class: the 3 in a square below the short-circuit capacity", || choices!(EnergyClass)),
Row("terminals_90", "Terminals stated for conductors at 90 °C", || choices!(YesNo)),
Row("neutral_protected", "Neutral pole opens on overcurrent too", || choices!(YesNo)),
Row("ir", "Adjustable breaker: overload setting, Ir", || quantity::<Amps>("A")),
Row("ii", "Instantaneous setting, Ii", || quantity::<Amps>("A")),
Row("isd", "Short-time setting, Isd (without one: Ii again)", || quantity::<Amps>("A")),
Row("tsd", "Short-time release opens within, from its data", || quantity::<Seconds>("s")),
Row("dc_rated", "For direct current of this voltage, by its data", || choices!(YesNo)),
Row("for_it", "One pole breaks the voltage between lines (IT system)", || choices!(YesNo)),
Row("let_through", "Let-through energy, from its data", || quantity::<AmpsSquaredSeconds>("A2s")),
Row("let_through_at", "said of a fault current of", || quantity::<Amps>("kA")),
Row("selective", "Selective with the device upstream up to, by the makers' table", || quantity::<Amps>("kA")),
Row("backed_up", "Backed up by the device upstream up to, by the makers' table", || quantity::<Amps>("kA")),
    Row("loss", "Power loss per pole", || quantity::<Watts>("W")),
])}
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
                {rows(&base, &[
    Row("size", "Size of the line conductor", || quantity::<SquareMillimetres>("mm2")),
    ])}
                {circuit.map(|circuit| view! { <SizeCable circuit /> })}
                {rows(&base, &[
    Row("length", "Length", || quantity::<Metres>("m")),
    Row("method", "Installation method", || choices!(Method)),
    Row("construction", "Construction", || choices!(Construction)),
    Row("cores", "Cores, the protective one among them", || Kind::Count),
    Row("material", "Conductor", || choices!(Material)),
    Row("insulation", "Insulation", || choices!(Insulation)),
    Row("cpc", "Protective conductor", || choices!(CpcForm)),
    Row("cpc_size", "Size of the protective conductor", || quantity::<SquareMillimetres>("mm2")),
    Row("cpc_material", "Metal of a separate protective conductor", || choices!(Material)),
    Row("cpc_apart", "Protective conductor laid apart from the lines", || choices!(YesNo)),
    Row("ambient", "Hottest ambient temperature", || quantity::<Celsius>("degC")),
    Row("grouped", "Circuits grouped together, this one included", || Kind::Count),
    Row("grouped_light", "Of these, loaded to no more than 30 % of what they may carry there", || Kind::Count),
    Row("diameter", "Overall diameter", || quantity::<Millimetres>("mm")),
    Row("bedding_diameter", "Diameter under the armour", || quantity::<Millimetres>("mm")),
    ])}
                <details data-open="cable-more">
                    <summary>{t("ui-circuit-more-cable")}</summary>
                    {rows(&base, &[
    Row("layout", "How circuits lie together", || choices!(Layout)),
    Row("formation", "How its single cores lie in free air", || choices!(Formation)),
    Row("mixed_sizes", "Cables of other sizes lie with it", || choices!(YesNo)),
    Row("parallel", "Cables in parallel", || Kind::Count),
    Row("neutral_size", "Size of the neutral, where it is another", || quantity::<SquareMillimetres>("mm2")),
    Row("in_insulation", "Length run in thermal insulation", || quantity::<Metres>("m")),
    Row("soil", "Thermal resistivity of the ground", || quantity::<KelvinMetresPerWatt>("K.m/W")),
    Row("burial_depth", "Depth of burial", || quantity::<Metres>("m")),
    Row("bend_factor", "Smallest bend radius by its maker, times its diameter", || quantity::<Ratio>("")),
    ])}
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
            <PickField path=of("neutral_terminal") label=t("ui-circuit-neutral-terminal") list=list(true) />
            <PickField path=of("earth_terminals") label=t("ui-circuit-earth-terminal") list=list(false) />
            <SwitchField
                path=of("high_protective_current")
                label=t("ui-circuit-high-current")
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
