//! The board itself: name, enclosure, supply, incomer.

use leptos::prelude::*;
use survey::field::Section;
use survey::intent::Intent;
use survey::{Housing, Incomer, Supply, Surroundings};

use crate::parts::checks::{Cautions, card};
use crate::parts::plain::{ChoiceField, TextField};
use crate::parts::surveyed::rows;
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
                    {rows("/incomer", Incomer::FIELDS, Section::First)}
                    <details data-open="incomer-more">
                        <summary>{t("ui-supply-more-incomer")}</summary>
                        {rows("/incomer", Incomer::FIELDS, Section::More)}
                    </details>
                </section>
                <section class="box">
                    <h3>{t("ui-supply-at-terminals")}</h3>
                    {rows("/supply", Supply::FIELDS, Section::First)}

                    <details data-open="upstream">
                        <summary>{t("ui-supply-upstream")}</summary>
                        {rows("/supply", Supply::FIELDS, Section::Upstream)}
                    </details>
                    <details data-open="origin">
                        <summary>{t("ui-supply-origin")}</summary>
                        {rows("/supply", Supply::FIELDS, Section::Origin)}
                    </details>
                    <details data-open="earthing">
                        <summary>{t("ui-supply-earthing")}</summary>
                        {rows("/supply", Supply::FIELDS, Section::Earthing)}
                    </details>
                    {rows("/supply", Supply::FIELDS, Section::Colours)}
                    <TextField path=path("/supply/fed_from") />
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
                    {rows("/surroundings", Surroundings::FIELDS, Section::First)}
                </section>
                <section class="box" data-housing="">
                    <h3>{t("ui-supply-housing")}</h3>
                    {rows("/housing", Housing::FIELDS, Section::First)}
                    <LabelsFitted />
                    <TextField path=path("/housing/live_uncovered") />
                </section>
                <section class="box">
                    <h3>{t("ui-board")}</h3>
                    <TextField path=path("/reference") />
                    <TextField path=path("/place") />
                    <ChoiceField path=path("/stage") />
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
            view.follows.labels.iter().map(|label| (label.key.clone(), label.text.to_string())).collect::<Vec<_>>()
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
