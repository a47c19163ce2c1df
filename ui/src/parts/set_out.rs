//! Setting a plate out: entries for the cables that have none, a place for every entry.

use leptos::prelude::*;
use serde_json::Value;
use survey::ids::PlateId;

use crate::sheet::{intent, words};
use crate::state::app;
use crate::words::{t, tr};

fn list(title: &'static str, lines: Vec<String>) -> AnyView {
    if lines.is_empty() {
        return ().into_any();
    }
    let lines = lines.into_iter().map(|line| view! { <li>{line}</li> }).collect_view();
    view! {
        <p><strong>{title}</strong></p>
        <ul>{lines}</ul>
    }
    .into_any()
}

fn score(name: &'static str, score: &Value) -> AnyView {
    let count = |key: &str| score[key].as_u64();
    view! {
        <tr>
            <th scope="row">{name}</th>
            <td>{count("crossings")}</td>
            <td>{format!("{:.0} mm", score["length"].as_f64().unwrap_or_default())}</td>
            <td>{count("rows")}</td>
        </tr>
    }
    .into_any()
}

/// Adds entries for cables, and sets the plate out.
#[component]
pub fn SetOut(plate: PlateId) -> impl IntoView {
    let app = app();
    let chosen: RwSignal<Option<Value>> = RwSignal::new(None);
    let found: RwSignal<Option<Value>> = RwSignal::new(None);
    let spares = RwSignal::new(String::new());
    let keep = RwSignal::new(false);
    let choose = move |_| {
        let Some(board) = app.board() else { return };
        found.set(None);
        app.ask_json(api::EntriesForCables { board, plate }, move |reply| drop(chosen.try_set(Some(reply))));
    };
    let solve = move |_| {
        let Some(board) = app.board() else { return };
        chosen.set(None);
        let spares = spares.with_untracked(|text| {
            text.split([',', ';', ' ']).filter(|size| !size.is_empty()).map(str::to_owned).collect()
        });
        let request = api::SetOutPlate { board, plate, spares, keep_placed: keep.get_untracked() };
        app.ask_json(request, move |reply| drop(found.try_set(Some(reply))));
    };
    let shown_choice = move || {
        chosen.get().map(|reply| {
            let add = intent(&reply).map_or_else(
                || view! { <p>{t("ui-set-out-all")}</p> }.into_any(),
                |intent| {
                    view! {
                        <button
                            type="button"
                            class="main"
                            data-set-out="add"
                            on:click=move |_| {
                                chosen.set(None);
                                app.edit_ready(intent.clone(), |_| ());
                            }
                        >
                            {t("ui-set-out-add")}
                        </button>
                    }
                    .into_any()
                },
            );
            view! {
                {list(t("ui-set-out-to-add"), words(&reply, "chosen"))}
                {list(t("ui-set-out-left-out"), words(&reply, "left"))}
                {add}
            }
        })
    };
    let shown = move || {
        found.get().map(|reply| {
            let number = |value: &Value| value.as_f64().unwrap_or_default();
            let proof = if reply["proven"] == true {
                t("ui-set-out-proven").to_owned()
            } else {
                let (total, bound) = (number(&reply["after"]["total"]).round(), number(&reply["bound"]).round());
                tr("ui-set-out-not-proven", &[("total", total.into()), ("bound", bound.into())])
            };
            let mut cautions = words(&reply, "cautions").into_iter();
            let first = cautions.next();
            let cautions = cautions.map(|caution| view! { <p>{caution}</p> }).collect_view();
            let same = intent(&reply).is_none().then_some(match reply["proven"] == true {
                true => t("ui-set-out-same"),
                false => t("ui-set-out-none-better"),
            });
            let enter = intent(&reply).map(|intent| {
                view! {
                    <button
                        type="button"
                        class="main"
                        data-set-out="enter"
                        on:click=move |_| {
                            found.set(None);
                            app.edit_ready(intent.clone(), |_| ());
                        }
                    >
                        {t("ui-set-out-enter")}
                    </button>
                }
            });
            view! {
                <div class="scroll">
                    <table>
                        <tbody>
                            <tr>
                                <td></td>
                                <th scope="col">{t("ui-set-out-crossings")}</th>
                                <th scope="col">{t("ui-set-out-along")}</th>
                                <th scope="col">{t("ui-set-out-rows")}</th>
                            </tr>
                            {reply["before"].is_object().then(|| score(t("ui-now"), &reply["before"]))}
                            {score(t("ui-set-out-then"), &reply["after"])}
                        </tbody>
                    </table>
                </div>
                <p>{proof}</p>
                {same}
                {list(t("ui-set-out-places"), words(&reply, "places"))}
                {list(t("ui-set-out-room"), words(&reply, "spares"))}
                {list(t("ui-set-out-not"), words(&reply, "left"))}
                {list(t("ui-set-out-look"), words(&reply, "notes"))}
                {enter}
                <aside class="cautions" aria-label=t("ui-set-out-drilling")>
                    <p><span aria-hidden="true">"⚠ "</span>{first}</p>
                    <details><summary>{t("ui-set-out-drilling")}</summary>{cautions}</details>
                </aside>
            }
        })
    };
    view! {
        <section class="box" data-open="set-out">
            <h3>{t("ui-set-out")}</h3>
            <div class="row">
                <button type="button" data-set-out="choose" on:click=choose>{t("ui-set-out-choose")}</button>
                <button type="button" data-set-out="solve" on:click=solve>{t("ui-set-out-solve")}</button>
            </div>
            <details data-open="set-out-wishes">
                <summary>{t("ui-set-out-wishes")}</summary>
                <div class="field">
                    <label class="name" for="spares">{t("ui-set-out-spares")}</label>
                    <input
                        id="spares"
                        autocomplete="off"
                        placeholder="M20, M25"
                        data-set-out="spares"
                        on:input=move |event| spares.set(event_target_value(&event))
                    />
                </div>
                <label class="chip wide">
                    <input type="checkbox" data-set-out="keep" on:change=move |event| keep.set(event_target_checked(&event)) />
                    <span>{t("ui-set-out-keep")}</span>
                </label>
            </details>
            <div aria-live="polite">{shown_choice} {shown}</div>
        </section>
    }
    .into_any()
}
