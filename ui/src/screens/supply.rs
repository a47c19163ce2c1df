//! The board itself: name, enclosure, supply, incomer.

use leptos::prelude::*;
use survey::intent::Intent;
use survey::units::{
    Amps, AmpsSquaredSeconds, Celsius, Metres, Millimetres, OhmMetres, Ohms, Ratio, Seconds, SquareMillimetres,
    VoltAmperes, Volts, Watts,
};
use survey::{
    Arrangement, Bond, ConductorColours, CurrentForm, Curve, DeviceKind, EarthingSystem, Frequency, Ip, Mounting,
    Network, RcdDelay, RcdType, Stage, SupplyPhases, TouchLimit, YesNo,
};

use crate::parts::checks::{Cautions, card};
use crate::parts::field::{Kind, choices, quantity};
use crate::parts::plain::{ChoiceField, TextField};
use crate::parts::surveyed::{Row, Surveyed, rows};
use crate::screens::board::PickEnclosure;
use crate::screens::circuit::cable_section;
use crate::state::app;
use crate::words::{t, tr};

/// Supply, incomer and enclosure.
#[component]
pub fn SupplyScreen() -> impl IntoView {
    let app = app();
    let cable = Memo::new(move |_| app.at("/supply/cable", |id| id.as_str().and_then(|id| id.parse().ok())));
    let checks = Memo::new(move |_| {
        app.of_view(|view| {
            view.checks.iter().filter(|check| check.subject == survey::Subject::Board).cloned().collect::<Vec<_>>()
        })
        .unwrap_or_default()
    });
    let path = |path: &str| path.to_owned();
    let enclosure = Memo::new(move |_| app.at("/enclosure/value/name", |name| name.as_str().map(str::to_owned)));
    view! {
        <div class="columns editor">
            <section class="side" aria-label=t("ui-supply-checks")>
                <h2>{t("ui-supply")}</h2>
                <Cautions of=survey::Outlet::Board />
                <div class="cards">{move || checks.get().into_iter().map(|check| card(check, false)).collect_view()}</div>
            </section>
            <div>
                <section class="box">
                    <h3>{t("ui-supply-incomer")}</h3>
                    {rows("/incomer", &[
Row("arrangement", "Arrangement", || choices!(Arrangement)),
Row("rated", "Rated current", || quantity::<Amps>("A")),
Row("residual", "Residual current, IΔn", || quantity::<Amps>("mA")),
Row("rcd_type", "RCD type", || choices!(RcdType)),
])}
                    <details data-open="incomer-more">
                        <summary>{t("ui-supply-more-incomer")}</summary>
                        {rows("/incomer", &[
Row("delay", "RCD delay", || choices!(RcdDelay)),
Row("loss", "Power loss per pole", || quantity::<Watts>("W")),
Row("conditional", "Conditional short-circuit current with the device upstream", || quantity::<Amps>("kA")),
Row("short_time", "Short-time withstand current for 1 s, Icw", || quantity::<Amps>("kA")),
Row("terminals_90", "Terminals stated for conductors at 90 °C", || choices!(YesNo)),
])}
                    </details>
                </section>
                <section class="box">
                    <h3>{t("ui-supply-at-terminals")}</h3>
                    {rows("/supply", &[
Row("system", "Earthing system", || choices!(EarthingSystem)),
Row("phases", "Phases", || choices!(SupplyPhases)),
Row("voltage", "Voltage to earth, U0", || quantity::<Volts>("V")),
Row("current_form", "Form of the current", || choices!(CurrentForm)),
Row("reduced", "Reduced low voltage: 110 V, midpoint or star point earthed", || choices!(YesNo)),
Row("frequency", "Frequency", || choices!(Frequency)),
Row("ze", "Ze at this board", || quantity::<Ohms>("ohm")),
])}
                    <Surveyed
                        path=path("/supply/ipf")
                        label="Prospective fault current, Ipf"
                        kind={quantity::<Amps>("kA")}
                        hint=t("ui-supply-ipf-hint")
                    />
                    {rows("/supply", &[
Row("upstream", "Rated current of the device upstream", || quantity::<Amps>("A")),
])}
                    <details data-open="upstream">
                        <summary>{t("ui-supply-upstream")}</summary>
                        {rows("/supply", &[
Row("upstream_kind", "What it is", || choices!(DeviceKind)),
Row("upstream_curve", "Type", || choices!(Curve)),
Row("upstream_ir", "Adjustable breaker: overload setting, Ir", || quantity::<Amps>("A")),
Row("upstream_ii", "Instantaneous setting, Ii", || quantity::<Amps>("A")),
Row("upstream_isd", "Short-time setting, Isd (without one: Ii again)", || quantity::<Amps>("A")),
Row("upstream_tsd", "Short-time release opens within, from its data", || quantity::<Seconds>("s")),
Row("upstream_residual", "Residual current, IΔn", || quantity::<Amps>("mA")),
Row("upstream_delay", "RCD delay", || choices!(RcdDelay)),
Row("upstream_let_through", "Let-through energy, from its data", || quantity::<AmpsSquaredSeconds>("A2s")),
Row("upstream_let_through_at", "said of a fault current of", || quantity::<Amps>("kA")),
])}
                    </details>
                    <details data-open="origin">
                        <summary>{t("ui-supply-origin")}</summary>
                        {rows("/supply", &[
Row("network", "Network", || choices!(Network)),
Row("transformer", "Rating of the transformer", || quantity::<VoltAmperes>("kVA")),
Row("transformer_voltage", "Its short-circuit voltage", || quantity::<Ratio>("%")),
Row("origin_ipf", "Ipf at the origin", || quantity::<Amps>("kA")),
Row("origin_ze", "Ze at the origin", || quantity::<Ohms>("ohm")),
])}
                    </details>
                    <details data-open="earthing">
                        <summary>{t("ui-supply-earthing")}</summary>
                        {rows("/supply", &[
Row("earthing_conductor", "Earthing conductor", || quantity::<SquareMillimetres>("mm2")),
Row("bonding", "Main bonding conductors", || quantity::<SquareMillimetres>("mm2")),
Row("electrode", "Earth electrode, RA", || quantity::<Ohms>("ohm")),
Row("electrode_length", "Length of the electrode rod", || quantity::<Metres>("m")),
Row("electrode_diameter", "Diameter of the electrode rod", || quantity::<Millimetres>("mm")),
Row("electrode_ground", "Resistivity of the ground there", || quantity::<OhmMetres>("ohm.m")),
Row("touch_limit", "Touch voltage allowed", || choices!(TouchLimit)),
Row("neutral_distributed", "IT: the neutral is distributed", || choices!(YesNo)),
Row("earthed_together", "IT: exposed parts are earthed together", || choices!(YesNo)),
    Row("first_fault", "IT: current of a first fault", || quantity::<Amps>("A")),
])}
                    </details>
                    {rows("/supply", &[
Row("colours", "Conductor colours", || choices!(ConductorColours)),
])}
                    <TextField path=path("/supply/fed_from") label="Fed from" />
                </section>
                {move || match cable.get() {
                    Some(cable) => cable_section(cable, t("ui-supply-cable"), None),
                    None => {
                        view! {
                            <section class="box">
                                <h3>{t("ui-supply-cable")}</h3>
                                <button type="button" data-add="supply-cable" on:click=move |_| app.edit(Intent::AddSupplyCable)>
                                    {t("ui-supply-add-cable")}
                                </button>
                            </section>
                        }
                            .into_any()
                    }
                }}
                <section class="box">
                    <h3>{t("ui-supply-surroundings")}</h3>
                    {rows("/surroundings", &[
Row("ambient", "Hottest temperature of the room", || quantity::<Celsius>("degC")),
Row("mounting", "How it stands", || choices!(Mounting)),
Row("diversity", "Rated diversity factor on its label", || quantity::<Ratio>("")),
Row("conditional", "Conditional short-circuit current on its label, Icc", || quantity::<Amps>("kA")),
Row("short_time", "Short-time withstand current for 1 s on its label, Icw", || quantity::<Amps>("kA")),
])}
                </section>
                <section class="box" data-housing="">
                    <h3>{t("ui-supply-housing")}</h3>
                    {rows("/housing", &[
Row("case_bond", "Case and the protective conductor", || choices!(Bond)),
Row("door_bond", "Door or cover", || choices!(Bond)),
Row("plates_bond", "Gland plates and mounting plate", || choices!(Bond)),
Row("incoming_earth", "Terminal for the incoming protective conductor", || choices!(YesNo)),
Row("outside_studs", "Earth studs outside", || Kind::Count),
Row("ip_closed", "Degree of protection, cover on", || choices!(Ip)),
Row("ip_open", "Degree of protection, cover off", || choices!(Ip)),
Row("blanks_fitted", "Blanks fitted over unused ways, in modules", || Kind::Count),
Row("barriers", "Barriers before the busbars, cover off", || choices!(YesNo)),
Row("shrouds", "Shrouds over the incoming terminals, cover off", || choices!(YesNo)),
])}
                    <LabelsFitted />
                    <TextField path=path("/housing/live_uncovered") label="Live with the cover off and the incomer open" />
                </section>
                <section class="box">
                    <h3>{t("ui-board")}</h3>
                    <TextField path=path("/reference") label="Reference" />
                    <TextField path=path("/place") label="Where it hangs" />
                    <ChoiceField path=path("/stage") label="Stage" kind=choices!(Stage) />
                    <p>{move || enclosure.get().map(|name| tr("ui-supply-enclosure", &[("name", name.into())]))}</p>
                    <PickEnclosure />
                </section>
            </div>
        </div>
    }
    .into_any()
}

/// The labels that the board owes, each to be ticked where it is there.
#[component]
fn LabelsFitted() -> impl IntoView {
    let app = app();
    let owed = Memo::new(move |_| {
        app.of_view(|view| {
            view.follows.labels.iter().map(|label| (label.key.clone(), label.text.clone())).collect::<Vec<_>>()
        })
        .unwrap_or_default()
    });
    let fitted = Memo::new(move |_| {
        app.at("/housing/labels_fitted", |keys| {
            let keys = keys.as_array().into_iter().flatten();
            keys.filter_map(|key| key.as_str().map(str::to_owned)).collect::<Vec<_>>()
        })
    });
    view! {
        <fieldset class="field">
            <legend class="name">{t("ui-supply-labels")}</legend>
            {move || {
                owed.get()
                    .into_iter()
                    .map(|(key, words)| {
                        let there = {
                            let key = key.clone();
                            move || fitted.with(|fitted| fitted.contains(&key))
                        };
                        let tick = move |event| {
                            let mut keys = fitted.get_untracked();
                            keys.retain(|other| *other != key);
                            if event_target_checked(&event) {
                                keys.push(key.clone());
                            }
                            app.set("/housing/labels_fitted".to_owned(), serde_json::json!(keys));
                        };
                        view! {
                            <label class="row">
                                <input type="checkbox" prop:checked=there on:change=tick />
                                <span>{words}</span>
                            </label>
                        }
                    })
                    .collect_view()
            }}
        </fieldset>
    }
    .into_any()
}
