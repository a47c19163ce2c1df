//! The board: the drawing, and beside it what follows from it.

use leptos::prelude::*;
use serde_json::{Value, json};
use survey::intent::Intent;
use survey::known::Known;
use survey::{DeviceKind, LoadKind, Poles};

use crate::files;
use crate::parts::board_drawing::{BoardDrawing, free_poles};
use crate::parts::checks::{Cautions, badge, counts};
use crate::parts::weigh::Balance;
use crate::route::Part;
use crate::state::{Patterns, app, capital};
use crate::words::{said, t, tr};

/// The board as it hangs.
#[component]
pub fn BoardScreen() -> impl IntoView {
    let app = app();
    let drawn = Memo::new(move |_| app.of_view(|view| view.drawing.is_some()).unwrap_or(false));
    view! {
        <div class="columns wide-left">
            <section aria-label=t("ui-board-drawing")>
                {move || {
                    if drawn.get() {
                        view! { <BoardDrawing /> }.into_any()
                    } else {
                        view! {
                            <div class="box">
                                <h2>{t("ui-board-which-enclosure")}</h2>
                                <p>{t("ui-board-not-drawn")}</p>
                                <PickEnclosure />
                            </div>
                        }
                            .into_any()
                    }
                }}
            </section>
            <section aria-label=t("ui-board-follows") class="side">
                <Summary />
                <Circuits />
                <Follows />
                <Currents />
                <Balance />
                <Hand />
            </section>
        </div>
    }
    .into_any()
}

/// Key and name of an enclosure pattern on offer.
pub fn pattern_words(row: &Value) -> (String, String) {
    let text = |text: &Value| text.as_str().unwrap_or_default().to_owned();
    (text(&row["pattern"]["key"]), text(&row["name"]))
}

/// Picks the enclosure from the patterns.
#[component]
pub fn PickEnclosure() -> impl IntoView {
    let app = app();
    let patterns: RwSignal<Vec<Value>> = RwSignal::new(Vec::new());
    app.ask(Patterns {}, move |list| drop(patterns.try_set(list)));
    let key = RwSignal::new(String::new());
    let current = Memo::new(move |_| app.at("/enclosure/value/key", |key| key.as_str().unwrap_or_default().to_owned()));
    let use_it = move |known| {
        let pattern = patterns.with_untracked(|list| {
            let key = key.get_untracked();
            list.iter().map(|row| &row["pattern"]).find(|one| one["key"] == key.as_str()).cloned()
        });
        if let Some(pattern) = pattern {
            app.edit_ready(json!({ "pick_enclosure": { "pattern": pattern, "known": known } }), |_| ());
        }
    };
    let none = move || key.with(String::is_empty);
    view! {
        <div class="field">
            <label class="name" for="enclosure">{t("ui-enclosure")}</label>
            <select id="enclosure" data-field="/enclosure" on:change=move |event| key.set(event_target_value(&event))>
                <option value="">{t("ui-pick-one")}</option>
                {move || {
                    let current = current.get();
                    patterns
                        .get()
                        .into_iter()
                        .map(|pattern| {
                            let (key, name) = pattern_words(&pattern);
                            let name = if key == current { tr("ui-enclosure-now", &[("name", name.into())]) } else { name };
                            view! { <option value=key>{name}</option> }
                        })
                        .collect_view()
                }}
            </select>
            <div class="row">
                <button type="button" data-enclosure="label" disabled=none on:click=move |_| use_it(Known::Label)>
                    {t("ui-enclosure-found")}
                </button>
                <button type="button" data-enclosure="decided" disabled=none on:click=move |_| use_it(Known::Decided)>
                    {t("ui-enclosure-decided")}
                </button>
            </div>
        </div>
    }
    .into_any()
}

#[component]
fn Summary() -> impl IntoView {
    let app = app();
    let state = Memo::new(move |_| {
        app.of_view(|view| (counts(&view.checks).map(|(_, count)| count), view.problems.len(), view.conflicts.len()))
    });
    move || {
        let ([fails, advised, undecided, holds], doubts, conflicts) = state.get()?;
        let part = |count: usize, verdict| {
            view! { <span class="tally">{badge(Some(verdict))} <strong>{count}</strong></span> }
        };
        Some(view! {
            <a class="box summary" href=app.href(Part::Findings) data-summary="">
                {part(fails, survey::Verdict::Fails)}
                {(advised > 0).then(|| part(advised, survey::Verdict::Advised))}
                {part(undecided, survey::Verdict::Undecided)}
                {part(holds, survey::Verdict::Holds)}
                {(doubts > 0).then(|| view! { <span class="tally">{tr("ui-board-look-again", &[("count", doubts.into())])}</span> })}
                {(conflicts > 0).then(|| view! { <span class="tally">{tr("ui-board-two-values", &[("count", conflicts.into())])}</span> })}
                <span class="go">{t("ui-board-all-findings")}</span>
            </a>
            <Cautions of=survey::Outlet::Board />
        })
    }
}

#[component]
fn Circuits() -> impl IntoView {
    let app = app();
    let rows = Memo::new(move |_| app.of_view(|view| view.rows.clone()).unwrap_or_default());
    view! {
        <details class="box" open data-open="circuits">
            <summary>{move || tr("ui-board-circuits", &[("count", rows.with(Vec::len).into())])}</summary>
            <ul class="circuit-list">
                {move || {
                    rows.get()
                        .into_iter()
                        .map(|row| {
                            let under = [row.poles.as_str(), row.device.as_str(), row.cable.as_str()]
                                .into_iter()
                                .filter(|part| !part.is_empty())
                                .collect::<Vec<_>>()
                                .join(" · ");
                            let current =
                                if row.design_current.is_empty() { String::new() } else { format!("Ib {}", row.design_current) };
                            view! {
                                <li>
                                    <a href=app.href(Part::Circuit(row.id)) data-circuit=row.id.to_string()>
                                        <span class="row spread">
                                            <strong>{format!("{} {}", row.name, row.description)}</strong>
                                            {badge(row.verdict)}
                                        </span>
                                        <span class="soft">{under}</span>
                                        <span class="soft">{current}</span>
                                    </a>
                                </li>
                            }
                        })
                        .collect_view()
                }}
            </ul>
            <a class="button" href=app.href(Part::Add(String::new())) data-add="">{t("ui-add-circuit")}</a>
        </details>
    }
    .into_any()
}

#[component]
fn Follows() -> impl IntoView {
    let app = app();
    let follows = Memo::new(move |_| app.of_view(|view| view.follows.clone()));
    let direct = Memo::new(move |_| {
        app.of_view(|view| view.drawing.as_ref().map(|drawing| drawing.direct_neutral.to_string()))
            .flatten()
            .unwrap_or_default()
    });
    view! {
        <details class="box" data-open="follows">
            <summary>{t("ui-follows-incomer")}</summary>
            {move || {
                follows
                    .get()
                    .map(|follows| {
                        let incoming = follows
                            .incoming
                            .into_iter()
                            .map(|(conductor, place)| view! { <tr><th scope="row">{conductor}</th><td>{place.to_string()}</td></tr> })
                            .collect_view();
                        let labels = follows
                            .labels
                            .into_iter()
                            .map(|label| {
                                view! {
                                    <li data-label=label.key>
                                        <strong>{label.text.to_string()}</strong>
                                        <span class="soft">{tr(
                                            "ui-follows-label",
                                            &[("place", label.place.to_string().into()), ("source", label.source.to_string().into())],
                                        )}</span>
                                    </li>
                                }
                            })
                            .collect_view();
                        let blanks = follows.blanks.iter().map(ToString::to_string).collect::<Vec<_>>();
                        let blank_words =
                            tr("ui-follows-poles", &[("count", blanks.len().into()), ("poles", blanks.join(", ").into())]);
                        let incomer_blanks = (follows.incomer_blanks > 0)
                            .then(|| view! { <p>{tr("ui-follows-incomer-blanks", &[("count", follows.incomer_blanks.into())])}</p> });
                        let link = follows
                            .phase_link
                            .then(|| view! { <p class="said doubt"><strong>{t("ui-follows-link")}</strong>{t("ui-follows-link-what")}</p> });
                        let direct = direct.get();
                        view! {
                            {link}
                            <h3>{t("ui-follows-incoming")}</h3>
                            <table><tbody>{incoming}</tbody></table>
                            {(!direct.is_empty()).then(|| view! { <p><strong>{t("ui-follows-direct")}</strong>{direct}</p> })}
                            <h3>{t("ui-follows-blanks")}</h3>
                            <p>{blank_words}</p>
                            {incomer_blanks}
                            <h3>{t("ui-follows-labels")}</h3>
                            <ul class="plain-list">{labels}</ul>
                        }
                    })
            }}
        </details>
    }
    .into_any()
}

#[component]
fn Currents() -> impl IntoView {
    let app = app();
    let currents = Memo::new(move |_| app.of_view(|view| view.currents.clone()).unwrap_or_default());
    view! {
        <details class="box" data-open="currents">
            <summary>{t("ui-currents")}</summary>
            <table>
                <tbody>
                    {move || {
                        let currents = currents.get();
                        let mut rows = currents.lines;
                        rows.push(("N".to_owned(), currents.neutral));
                        rows.push((t("ui-currents-unbalance").to_owned(), currents.unbalance));
                        rows.into_iter()
                            .filter(|(_, value)| !value.is_empty())
                            .map(|(name, value)| view! { <tr data-current=name.clone()><th scope="row">{name.clone()}</th><td>{value}</td></tr> })
                            .collect_view()
                    }}
                </tbody>
            </table>
        </details>
    }
    .into_any()
}

#[component]
fn Hand() -> impl IntoView {
    let app = app();
    let export = move |_| {
        let Some(board) = app.board() else { return };
        let name = untrack(|| app.at("/reference", |name| name.as_str().unwrap_or_default().to_owned()));
        let name = if name.is_empty() { "board".to_owned() } else { name };
        app.ask(api::ExportSurvey { board }, move |text| {
            files::download_text(&format!("{name}.json"), &text, "application/json");
            app.say(t("ui-board-survey-written"));
        });
    };
    view! {
        <details class="box" data-open="hand-on">
            <summary>{t("ui-board-hand-on")}</summary>
            <button type="button" data-export="survey" on:click=export>{t("ui-board-survey-file")}</button>
        </details>
    }
    .into_any()
}

/// A new circuit from a pole on.
#[component]
pub fn AddCircuit(pole: String) -> impl IntoView {
    let app = app();
    let at = RwSignal::new(pole);
    let poles = RwSignal::new(0_usize);
    let device = RwSignal::new(0_usize);
    let load = RwSignal::new(1_usize);
    let description = RwSignal::new(String::new());
    let free =
        Memo::new(move |_| app.of_view(|view| view.drawing.as_ref().map(free_poles)).flatten().unwrap_or_default());
    let make = move |event: web_sys::SubmitEvent| {
        event.prevent_default();
        let picked = if at.with_untracked(String::is_empty) {
            free.with_untracked(|free| free.first().copied())
        } else {
            at.get_untracked().parse().ok()
        };
        let (Some(at), Some(poles), Some(device), Some(load)) = (
            picked,
            Poles::ALL.get(poles.get_untracked()).copied(),
            DeviceKind::ALL.get(device.get_untracked()).copied(),
            LoadKind::ALL.get(load.get_untracked()).copied(),
        ) else {
            let error = api::ApiError::failed(t("ui-add-no-pole"));
            return app.warn(t("ui-not-added"), &error);
        };
        let description = description.get_untracked().trim().to_owned();
        app.edit_then(Intent::AddCircuit { at, poles, device, load, description }, move |result| {
            let Ok(edited) = result else { return };
            let new = edited
                .touched
                .iter()
                .find_map(|path| path.strip_prefix("/circuits/").and_then(|rest| rest.split('/').next()?.parse().ok()));
            app.go_to(new.map_or(Part::Drawing, Part::Circuit));
        });
    };
    let select = |id: &'static str, label: &'static str, value: RwSignal<usize>, list: Vec<&'static str>| {
        view! {
            <div class="field">
                <label class="name" for=id>{label}</label>
                <select id=id data-add=id on:change=move |event| value.set(event_target_value(&event).parse().unwrap_or_default())>
                    {list
                        .into_iter()
                        .enumerate()
                        .map(|(index, words)| {
                            let here = value.get_untracked() == index;
                            view! { <option value=index.to_string() selected=here>{capital(words)}</option> }
                        })
                        .collect_view()}
                </select>
            </div>
        }
    };
    view! {
        <form class="box narrow" on:submit=make>
            <h2>{t("ui-add-circuit")}</h2>
            <div class="field">
                <label class="name" for="pole">{t("ui-add-pole")}</label>
                <select id="pole" data-add="pole" on:change=move |event| at.set(event_target_value(&event))>
                    {move || {
                        let picked = at.get();
                        free.get()
                            .into_iter()
                            .map(|pole| {
                                let pole = pole.to_string();
                                view! { <option value=pole.clone() selected=pole == picked>{pole.clone()}</option> }
                            })
                            .collect_view()
                    }}
                </select>
            </div>
            <div class="field">
                <label class="name" for="description">{t("ui-add-feeds")}</label>
                <input
                    id="description"
                    data-add="description"
                    autocomplete="off"
                    on:input=move |event| description.set(event_target_value(&event))
                />
            </div>
            {select("poles", t("ui-add-poles"), poles, Poles::ALL.iter().map(|one| said(one.words())).collect())}
            {select("device", t("ui-add-device"), device, DeviceKind::ALL.iter().map(|one| said(one.words())).collect())}
            {select("load", t("ui-add-load"), load, LoadKind::ALL.iter().map(|one| said(one.words())).collect())}
            <div class="row">
                <button type="submit" class="main" data-add="make">{t("ui-add-it")}</button>
                <a class="button" href=app.href(Part::Drawing)>{t("ui-back-to-board")}</a>
            </div>
        </form>
    }
    .into_any()
}
