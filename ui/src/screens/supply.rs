//! The board itself: name, enclosure, supply, incomer.

use leptos::prelude::*;
use survey::units::{Amps, Ohms, Volts};
use survey::{Arrangement, ConductorColours, EarthingSystem, RcdType, Stage, SupplyPhases};

use crate::parts::checks::{Cautions, card};
use crate::parts::field::{choices, quantity};
use crate::parts::plain::{ChoiceField, TextField};
use crate::parts::surveyed::Surveyed;
use crate::screens::board::PickEnclosure;
use crate::screens::circuit::cable_section;
use crate::state::app;

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
            <section class="side" aria-label="Checks of the board">
                <h2>"Supply and incomer"</h2>
                <Cautions />
                <div class="cards">{move || checks.get().into_iter().map(|check| card(check, false)).collect_view()}</div>
            </section>
            <div>
                <section class="box">
                    <h3>"Incomer"</h3>
                    <Surveyed path=path("/incomer/arrangement") label="Arrangement" kind=choices!(Arrangement) />
                    <Surveyed path=path("/incomer/rated") label="Rated current" kind={quantity::<Amps>("A")} />
                    <Surveyed path=path("/incomer/residual") label="Residual current, IΔn" kind={quantity::<Amps>("mA")} />
                    <Surveyed path=path("/incomer/rcd_type") label="RCD type" kind=choices!(RcdType) />
                </section>
                <section class="box">
                    <h3>"Supply at the incoming terminals"</h3>
                    <Surveyed path=path("/supply/system") label="Earthing system" kind=choices!(EarthingSystem) />
                    <Surveyed path=path("/supply/phases") label="Phases" kind=choices!(SupplyPhases) />
                    <Surveyed path=path("/supply/voltage") label="Voltage to earth, U0" kind={quantity::<Volts>("V")} />
                    <Surveyed path=path("/supply/ze") label="Ze at this board" kind={quantity::<Ohms>("ohm")} />
                    <Surveyed
                        path=path("/supply/ipf")
                        label="Prospective fault current, Ipf"
                        kind={quantity::<Amps>("kA")}
                        hint="The larger of line to neutral and three-phase."
                    />
                    <Surveyed
                        path=path("/supply/upstream")
                        label="Rated current of the device upstream"
                        kind={quantity::<Amps>("A")}
                    />
                    <Surveyed path=path("/supply/colours") label="Conductor colours" kind=choices!(ConductorColours) />
                    <TextField path=path("/supply/fed_from") label="Fed from" />
                </section>
                {move || cable.get().map(|cable| cable_section(cable, "Incoming cable"))}
                <section class="box">
                    <h3>"Board"</h3>
                    <TextField path=path("/reference") label="Reference" />
                    <TextField path=path("/place") label="Where it hangs" />
                    <ChoiceField path=path("/stage") label="Stage" kind=choices!(Stage) />
                    <p>{move || enclosure.get().map(|name| format!("Enclosure now: {name}."))}</p>
                    <PickEnclosure />
                </section>
            </div>
        </div>
    }
    .into_any()
}
