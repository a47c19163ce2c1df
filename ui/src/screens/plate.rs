//! Gland plates: set out by dragging or by typing millimetres.

use leptos::prelude::*;
use serde_json::{Value, json};
use survey::field::Section;
use survey::ids::{EntryId, PlateId};
use survey::intent::Intent;
use survey::{Entry, EntryKind, Plate, Subject};

use crate::parts::checks::{Cautions, card};
use crate::parts::field::number;
use crate::parts::plain::{ChoiceField, PickField, SwitchField, TextField};
use crate::parts::plate_drawing::PlateDrawing;
use crate::parts::set_out::SetOut;
use crate::parts::slots::Slots;
use crate::parts::surveyed::rows;
use crate::route::Part;
use crate::sheet;
use crate::state::{app, capital, of_an_edit};
use crate::words::{said, t, tr};

/// Trade sizes offered while typing; any other can be typed.
const SIZES: [&str; 15] =
    ["16", "20S16", "20S", "20", "25", "32", "40", "50S", "50", "63S", "63", "75S", "75", "M20", "M25"];

/// The plates of the board, or one of them.
#[component]
pub fn PlateScreen(plate: Option<PlateId>) -> impl IntoView {
    let app = app();
    let plates = Memo::new(move |_| {
        app.of_view(|view| view.plates.iter().map(|plate| (plate.id, plate.name.clone())).collect::<Vec<_>>())
    });
    let shown = Memo::new(move |_| {
        plates.with(|plates| {
            let plates = plates.as_ref()?;
            match plate {
                Some(wanted) => plates.iter().find(|(id, _)| *id == wanted).map(|(id, _)| *id),
                None => plates.first().map(|(id, _)| *id),
            }
        })
    });
    let tabs = move || {
        plates
            .get()
            .unwrap_or_default()
            .into_iter()
            .map(|(id, name)| {
                view! {
                    <a
                        class="button"
                        href=app.href(Part::Plate(Some(id)))
                        data-plate=id.to_string()
                        aria-current=move || (shown.get() == Some(id)).then_some("true")
                    >
                        {capital(&name)}
                    </a>
                }
            })
            .collect_view()
    };
    view! {
        <div class="row tabs">
            <h2>{t("ui-plates")}</h2>
            {tabs}
        </div>
        {move || match (shown.get(), plates.with(Option::is_some)) {
            (Some(id), _) => one_plate(id),
            (None, true) => {
                view! {
                    <p class="empty">{t("ui-plate-none")}</p>
                }
                    .into_any()
            }
            (None, false) => ().into_any(),
        }}
    }
    .into_any()
}

fn one_plate(id: PlateId) -> AnyView {
    let app = app();
    let selected: RwSignal<Option<EntryId>> = RwSignal::new(None);
    let dimensioned = RwSignal::new(false);
    let base = format!("/plates/{id}");
    let checks = Memo::new(move |_| {
        app.of_view(|view| {
            let mut own: Vec<_> =
                view.checks.iter().filter(|check| check.subject == Subject::Plate(id)).cloned().collect();
            own.sort_by_key(|check| check.verdict);
            own
        })
        .unwrap_or_default()
    });
    let entries = Memo::new(move |_| {
        app.of_view(|view| view.plates.iter().find(|plate| plate.id == id).map(|plate| plate.entries.clone()))
            .flatten()
            .unwrap_or_default()
    });
    let list = move || {
        entries
            .get()
            .into_iter()
            .map(|entry| {
                let place = match entry.at {
                    Some([x, y]) => tr("ui-plate-at", &[("x", x.into()), ("y", y.into())]),
                    None => t("ui-plate-not-placed").to_owned(),
                };
                let entry_id = entry.id;
                let mut notes = Vec::new();
                if let Some(hole) = entry.hole {
                    notes.push(tr("ui-plate-hole", &[("hole", hole.into())]));
                }
                if !entry.cable.is_empty() {
                    notes.push(entry.cable.clone());
                }
                if !entry.measured.is_empty() {
                    notes.push(entry.measured.clone());
                }
                if entry.existing {
                    notes.push(t("ui-plate-there").to_owned());
                }
                if entry.locked {
                    notes.push(t("ui-plate-is-locked").to_owned());
                }
                view! {
                    <li>
                        <button
                            type="button"
                            class="line"
                            data-select=entry_id.to_string()
                            aria-pressed=move || (selected.get() == Some(entry_id)).to_string()
                            on:click=move |_| selected.set(Some(entry_id))
                        >
                            <strong>{entry.name}</strong>
                            <span>{place}</span>
                            <span class="soft">{notes.join(" · ")}</span>
                        </button>
                    </li>
                }
            })
            .collect_view()
    };
    view! {
        <PlateDrawing plate=id selected dimensioned />
        <label class="chip wide">
            <input type="checkbox" data-dimensioned="" on:change=move |event| dimensioned.set(event_target_checked(&event)) />
            <span>{t("ui-plate-dimensions")}</span>
        </label>
        <p class="hint">
            {t("ui-plate-how")}
        </p>
        <div class="columns">
            <div>
                {move || selected.get().map(|entry| entry_editor(id, entry, selected))}
                <SetOut plate=id />
                <section class="box">
                    <h3>{t("ui-plate-entries")}</h3>
                    <ul class="plain-list">{list}</ul>
                    <AddEntry plate=id selected />
                    <Slots plate=id />
                </section>
                <section class="box">
                    <h3>{t("ui-plate")}</h3>
                    {rows(&base, Plate::FIELDS, Section::First)}
                    <ChoiceField path=format!("{base}/datum") />
                    <Areas plate=id />
                </section>
            </div>
            <section class="side" aria-label=t("ui-plate-checks")>
                <h3>{t("ui-checks")}</h3>
                <Cautions of=survey::Outlet::Plate full=true />
                <div class="cards">
                    {move || checks.get().into_iter().map(|check| card(check, false)).collect_view()}
                </div>
            </section>
        </div>
    }
    .into_any()
}

/// Cables of the board with the circuit they feed, for a list to pick from.
fn cables(none: &'static str) -> Signal<Vec<(Value, String)>> {
    let app = app();
    Signal::derive(move || {
        let mut list = vec![(Value::Null, none.to_owned())];
        list.extend(
            app.of_view(|view| {
                let name = |cable: &str| {
                    let circuit = sheet::circuit_of(&view.board, "cable", cable);
                    match view.rows.iter().find(|row| Some(row.id) == circuit) {
                        Some(row) => format!("{} {}", row.name, row.description),
                        None if sheet::text(&view.board, "/supply/cable") == cable => {
                            t("ui-plate-incoming-cable").to_owned()
                        }
                        None => t("ui-plate-loose-cable").to_owned(),
                    }
                };
                sheet::live(&view.board, "cables").map(|(id, _)| (json!(id), name(id))).collect::<Vec<_>>()
            })
            .unwrap_or_default(),
        );
        list
    })
}

fn entry_editor(plate: PlateId, entry: EntryId, selected: RwSignal<Option<EntryId>>) -> AnyView {
    let app = app();
    let of = move |field: &str| format!("/plates/{plate}/entries/{entry}/{field}");
    let shown = Memo::new(move |_| {
        app.of_view(|view| {
            let plate = view.plates.iter().find(|one| one.id == plate)?;
            plate.entries.iter().find(|one| one.id == entry).cloned()
        })
        .flatten()
    });
    let name = move || shown.get().map_or_else(|| t("ui-plate-entry-removed").to_owned(), |entry| entry.name);
    let there = Memo::new(move |_| shown.with(Option::is_some));
    let fields = move || {
        there.get().then(|| {
            view! {
                <Place plate entry />
                <ChoiceField path=of("kind") />
                <TextField path=of("size") />
                <TextField path=of("number") />
                <button type="button" on:click=move |_| app.edit(Intent::NumberEntry { plate, entry })>
                    {t("ui-plate-next-number")}
                </button>
                <PickField path=of("cable") list=cables(t("ui-plate-no-cable")) />
                <TextField
                    path=of("hole")
                />
                {rows(&format!("/plates/{plate}/entries/{entry}"), Entry::FIELDS, Section::First)}
                <TextField path=of("cut_out_height") />
                <div class="row">
                    <SwitchField path=of("existing") />
                    <SwitchField path=of("locked") />
                </div>
                <button
                    type="button"
                    class="danger"
                    data-remove="entry"
                    on:click=move |_| {
                        app.edit_then(
                            Intent::RemoveEntry { plate, entry },
                            move |result| {
                                if result.is_ok() {
                                    let _ = selected.try_set(None);
                                }
                            },
                        );
                    }
                >
                    {t("ui-plate-remove-entry")}
                </button>
            }
        })
    };
    view! {
        <section class="box" data-entry-editor=entry.to_string()>
            <div class="row spread">
                <h3>{name}</h3>
                <button type="button" on:click=move |_| selected.set(None)>{t("ui-close")}</button>
            </div>
            {fields}
        </section>
    }
    .into_any()
}

/// The centre of an entry, typed in millimetres.
#[component]
fn Place(plate: PlateId, entry: EntryId) -> impl IntoView {
    let app = app();
    let stored = Memo::new(move |_| {
        app.of_view(|view| {
            let plate = view.plates.iter().find(|one| one.id == plate)?;
            plate.entries.iter().find(|one| one.id == entry)?.at
        })
        .flatten()
    });
    let typed: RwSignal<[Option<String>; 2]> = RwSignal::new([None, None]);
    let wrong: RwSignal<Option<String>> = RwSignal::new(None);
    let text = move |index: usize| {
        typed.get()[index].clone().unwrap_or_else(|| stored.get().map(|at| at[index].to_string()).unwrap_or_default())
    };
    let commit = move || {
        if typed.with_untracked(|typed| typed.iter().all(Option::is_none)) {
            return;
        }
        let [x, y] = untrack(|| [text(0), text(1)]);
        let (Some(x), Some(y)) = (number(&x, "mm"), number(&y, "mm")) else {
            // One of the two may still be to come.
            if !x.trim().is_empty() && !y.trim().is_empty() {
                wrong.set(Some(t("ui-plate-place-wrong").to_owned()));
            }
            return;
        };
        let sent = typed.get_untracked();
        if stored.get_untracked() == Some([x, y]) {
            return typed.set([None, None]);
        }
        app.edit_then(Intent::MoveEntry { plate, entry, at: [x, y] }, move |result| match result {
            Ok(_) => {
                if typed.try_get_untracked() == Some(sent) {
                    typed.set([None, None]);
                }
                let _ = wrong.try_set(None);
            }
            Err(error) => {
                let words = error.problems.first().map_or_else(|| error.message.clone(), crate::state::problem_words);
                let _ = wrong.try_set(Some(format!("{} {words}", of_an_edit(error))));
            }
        });
    };
    let field = move |index: usize, name: &'static str, label: &'static str| {
        let id = format!("place-{name}");
        view! {
            <div class="field">
                <label class="name" for=id.clone()>{label}</label>
                <div class="number">
                    <input
                        id=id
                        inputmode="decimal"
                        autocomplete="off"
                        data-place=name
                        data-field=format!("/plates/{plate}/entries/{entry}/at/{index}")
                        prop:value=move || text(index)
                        on:input=move |event| typed.update(|typed| typed[index] = Some(event_target_value(&event)))
                        on:change=move |_| commit()
                        on:keydown=move |event| if event.key() == "Enter" { commit() }
                    />
                    <span class="unit">"mm"</span>
                </div>
            </div>
        }
    };
    view! {
        <div class="pair">{field(0, "x", t("ui-plate-x"))} {field(1, "y", t("ui-plate-y"))}</div>
        {move || wrong.get().map(|wrong| view! { <p class="said bad" role="alert">{wrong}</p> })}
    }
    .into_any()
}

#[component]
fn AddEntry(plate: PlateId, selected: RwSignal<Option<EntryId>>) -> impl IntoView {
    let app = app();
    let kind = RwSignal::new(0_usize);
    let size = RwSignal::new("20S".to_owned());
    let cable = RwSignal::new(0_usize);
    let list = cables(t("ui-plate-no-cable-yet"));
    let add = move |_| {
        let (Some(board), Some(kind)) = (app.board(), EntryKind::ALL.get(kind.get_untracked()).copied()) else {
            return;
        };
        let size = size.get_untracked().trim().to_owned();
        let cable = list
            .with_untracked(|list| list.get(cable.get_untracked()).map(|(value, _)| value.clone()))
            .and_then(|value| serde_json::from_value(value).ok());
        let request = api::NextPlace { board, plate, kind, size: size.clone() };
        app.ask(request, move |place| {
            let Some(at) = place else {
                let error = api::ApiError::failed(t("ui-plate-no-room"));
                return app.warn(t("ui-not-added"), &error);
            };
            app.edit_then(Intent::AddEntry { plate, kind, size, at, cable }, move |result| {
                let Ok(edited) = result else { return };
                let new = edited.touched.iter().find_map(|path| {
                    let (_, rest) = path.split_once("/entries/")?;
                    rest.split('/').next()?.parse().ok()
                });
                let _ = selected.try_set(new);
            });
        });
    };
    view! {
        <details data-open="add-entry">
            <summary>{t("ui-plate-add")}</summary>
            <div class="field">
                <label class="name" for="entry-kind">{t("ui-plate-kind")}</label>
                <select
                    id="entry-kind"
                    data-entry-new="kind"
                    on:change=move |event| kind.set(event_target_value(&event).parse().unwrap_or_default())
                >
                    {EntryKind::ALL
                        .iter()
                        .enumerate()
                        .map(|(index, one)| view! { <option value=index.to_string()>{capital(said(one.words()))}</option> })
                        .collect_view()}
                </select>
            </div>
            <div class="field">
                <label class="name" for="entry-size">{t("ui-plate-trade-size")}</label>
                <input
                    id="entry-size"
                    data-entry-new="size"
                    list="sizes"
                    autocomplete="off"
                    prop:value=move || size.get()
                    on:input=move |event| size.set(event_target_value(&event))
                />
                <datalist id="sizes">
                    {SIZES.iter().map(|size| view! { <option value=*size></option> }).collect_view()}
                </datalist>
            </div>
            <div class="field">
                <label class="name" for="entry-cable">{t("ui-plate-cable")}</label>
                <select
                    id="entry-cable"
                    data-entry-new="cable"
                    on:change=move |event| cable.set(event_target_value(&event).parse().unwrap_or_default())
                >
                    {move || {
                        list.get()
                            .into_iter()
                            .enumerate()
                            .map(|(index, (_, words))| view! { <option value=index.to_string()>{words}</option> })
                            .collect_view()
                    }}
                </select>
            </div>
            <button type="button" class="main" data-entry-new="add" on:click=add>{t("ui-plate-add-it")}</button>
        </details>
    }
    .into_any()
}

/// What may be drilled and what must stay whole, as four numbers each.
#[component]
fn Areas(plate: PlateId) -> impl IntoView {
    let app = app();
    let stored = Memo::new(move |_| {
        app.at(&format!("/plates/{plate}"), |plate| {
            let text = |rect: &Value| {
                let numbers = rect.as_array().into_iter().flatten().filter_map(Value::as_f64);
                numbers.map(|number| number.to_string()).collect::<Vec<_>>().join(" ")
            };
            let keep_outs = plate["keep_outs"].as_array().into_iter().flatten().map(text).collect::<Vec<_>>();
            (text(&plate["usable"]), keep_outs)
        })
    });
    let wrong: RwSignal<Option<String>> = RwSignal::new(None);
    let read = move |text: &str| -> Option<Value> {
        let numbers: Option<Vec<f64>> =
            text.split([' ', ';']).filter(|part| !part.is_empty()).map(|part| number(part, "mm")).collect();
        let numbers = numbers.filter(|numbers| numbers.len() == 4);
        if numbers.is_none() {
            wrong.set(Some(t("ui-plate-area-wrong").to_owned()));
        }
        numbers.map(|numbers| json!(numbers))
    };
    let set_usable = move |event| {
        let text = event_target_value(&event);
        let value = if text.trim().is_empty() { Some(Value::Null) } else { read(&text) };
        if let Some(value) = value {
            wrong.set(None);
            app.set(format!("/plates/{plate}/usable"), value);
        }
    };
    let keep_outs = move || {
        let path = format!("/plates/{plate}/keep_outs");
        untrack(|| app.at(&path, |list| list.as_array().cloned().unwrap_or_default()))
    };
    let new = RwSignal::new(String::new());
    let add = move |_| {
        if let Some(value) = read(&new.get_untracked()) {
            wrong.set(None);
            let mut list = keep_outs();
            list.push(value);
            app.edit_then(
                Intent::Set { path: format!("/plates/{plate}/keep_outs"), value: json!(list) },
                move |result| {
                    if result.is_ok() {
                        let _ = new.try_set(String::new());
                    }
                },
            );
        }
    };
    let remove = move |index: usize| {
        let mut list = keep_outs();
        if index < list.len() {
            list.remove(index);
            app.set(format!("/plates/{plate}/keep_outs"), json!(list));
        }
    };
    view! {
        <div class="field">
            <label class="name" for="usable">{t("ui-plate-usable")}</label>
            <input
                id="usable"
                data-field=format!("/plates/{plate}/usable")
                autocomplete="off"
                prop:value=move || stored.with(|stored| stored.0.clone())
                on:change=set_usable
            />
        </div>
        <div class="field">
            <label class="name" for="keep-out">{t("ui-plate-keep-out")}</label>
            <ul class="plain-list">
                {move || {
                    stored
                        .with(|stored| stored.1.clone())
                        .into_iter()
                        .enumerate()
                        .map(|(index, text)| {
                            view! {
                                <li class="row spread">
                                    <span>{text.clone()}</span>
                                    <button
                                        type="button"
                                        aria-label=tr("ui-plate-remove-area", &[("area", text.into())])
                                        on:click=move |_| remove(index)
                                    >
                                        {t("ui-remove")}
                                    </button>
                                </li>
                            }
                        })
                        .collect_view()
                }}
            </ul>
            <div class="row nowrap">
                <input
                    id="keep-out"
                    autocomplete="off"
                    data-field=format!("/plates/{plate}/keep_outs")
                    prop:value=move || new.get()
                    on:input=move |event| new.set(event_target_value(&event))
                />
                <button type="button" on:click=add>{t("ui-plate-add-area")}</button>
            </div>
        </div>
        {move || wrong.get().map(|wrong| view! { <p class="said bad" role="alert">{wrong}</p> })}
    }
    .into_any()
}
