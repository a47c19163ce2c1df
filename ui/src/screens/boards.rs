//! Sites and boards: find, make, bring in, hand on.

use std::time::Duration;

use api::{BoardList, SiteRow};
use leptos::leptos_dom::helpers::TimeoutHandle;
use leptos::prelude::*;
use leptos::task::spawn_local;

use crate::call::{call, call_as, call_with, file_link, in_window, written};
use crate::files;
use crate::route::{Part, Screen};
use crate::screens::board::pattern_words;
use crate::sheet::{self, View};
use crate::state::{App, Patterns, app};
use crate::words::{t, tr};

/// Most boards in the list at a time.
const LIMIT: u32 = 100;

/// The first screen.
#[component]
pub fn Boards() -> impl IntoView {
    let app = app();
    let query = RwSignal::new(String::new());
    let found: RwSignal<Option<BoardList>> = RwSignal::new(None);
    let sites: RwSignal<Vec<SiteRow>> = RwSignal::new(Vec::new());
    let report: RwSignal<Option<Vec<String>>> = RwSignal::new(None);

    // A reply to older words than the ones in the box is dropped.
    let asked = StoredValue::new(0_u32);
    let search = move || {
        asked.update_value(|asked| *asked += 1);
        let mine = asked.get_value();
        let request = api::ListBoards { query: query.get_untracked(), limit: LIMIT };
        spawn_local(async move {
            let reply = call(request).await;
            if asked.try_get_value() != Some(mine) {
                return;
            }
            match reply {
                Ok(list) => found.set(Some(list)),
                Err(error) => app.warn(t("ui-boards-unread"), &error),
            }
        });
    };
    let refresh = move || {
        search();
        app.ask(api::ListSites {}, move |list| drop(sites.try_set(list)));
    };
    refresh();

    let timer: StoredValue<Option<TimeoutHandle>> = StoredValue::new(None);
    let typed = move |event| {
        query.set(event_target_value(&event));
        if let Some(timer) = timer.get_value() {
            timer.clear();
        }
        timer.set_value(set_timeout_with_handle(search, Duration::from_millis(200)).ok());
    };

    let rows = move || {
        let list = found.get()?;
        if list.rows.is_empty() {
            let words = if query.get().is_empty() { t("ui-boards-none") } else { t("ui-boards-no-match") };
            return Some(view! { <p class="empty">{words}</p> }.into_any());
        }
        let more = list.total as usize > list.rows.len();
        let shown = list.rows.len();
        let rows = list
            .rows
            .into_iter()
            .map(|row| {
                let href = Screen::Board(row.id, Part::Drawing).href();
                let conflicts = (row.conflicts > 0).then(|| {
                    view! { <span class="count">{tr("ui-boards-to-settle", &[("count", row.conflicts.into())])}</span> }
                });
                let circuits = tr("ui-boards-circuits", &[("count", row.circuits.into())]);
                view! {
                    <li>
                        <a href=href class="board-row" data-board=row.id.to_string()>
                            <strong>{row.reference}</strong>
                            <span>{row.place}</span>
                            <span class="soft">{row.site_name}</span>
                            <span class="soft">{circuits}</span>
                            {conflicts}
                        </a>
                    </li>
                }
            })
            .collect_view();
        Some(
            view! {
                <ul class="board-list" aria-label=t("ui-boards")>{rows}</ul>
                {more.then(|| view! { <p class="hint">{tr("ui-boards-first", &[("shown", shown.into()), ("count", list.total.into())])}</p> })}
            }
            .into_any(),
        )
    };
    let told =
        move || found.get().map(|list| tr("ui-boards-count", &[("count", list.total.into())])).unwrap_or_default();

    let bundle = move |event: web_sys::Event| {
        let Some(file) = files::picked(&event) else { return };
        spawn_local(async move {
            let name = file.name();
            match call_with(api::BundleFile {}, &file).await {
                Ok(done) => {
                    let mut lines = vec![
                        tr("ui-boards-brought-in", &[("file", name.into())]),
                        tr(
                            "ui-boards-new-merged",
                            &[("new", done.new_boards.into()), ("merged", done.merged_boards.into())],
                        ),
                        tr(
                            "ui-boards-changes",
                            &[
                                ("changes", done.changes.into()),
                                ("photos", done.photos.into()),
                                ("healed", done.healed.into()),
                            ],
                        ),
                        tr("ui-boards-conflicts", &[("count", done.conflicts.into())]),
                    ];
                    if done.missing_photos > 0 {
                        lines.insert(3, tr("ui-boards-missing-photos", &[("count", done.missing_photos.into())]));
                    }
                    let _ = report.try_set(Some(lines));
                    app.say(t("ui-boards-bundle-in"));
                    refresh();
                }
                Err(error) => app.warn(&tr("ui-boards-not-brought-in", &[("file", name.into())]), &error),
            }
        });
    };
    let survey = move |event: web_sys::Event| {
        let Some(file) = files::picked(&event) else { return };
        spawn_local(async move {
            let name = file.name();
            let reply = match files::text(&file).await {
                Ok(text) => call_as::<_, api::SurveyTaken<serde_json::Value>>(api::ImportSurvey { text }).await,
                Err(error) => Err(error),
            };
            match reply {
                Ok(api::SurveyTaken { told, view }) => {
                    let board = sheet::text(&view.board, "/reference");
                    let read = tr("ui-boards-read", &[("file", name.into()), ("board", board.into())]);
                    match told.is_empty() {
                        true => app.say(read),
                        false => app.point_out(read, told),
                    }
                    show(app, &view);
                }
                Err(error) => app.warn(&tr("ui-boards-not-read", &[("file", name.into())]), &error),
            }
        });
    };

    view! {
        <div class="columns">
            <section aria-label=t("ui-boards-find")>
                <div class="field">
                    <label class="name" for="search">{t("ui-boards-find")}</label>
                    <input
                        id="search"
                        type="search"
                        autocomplete="off"
                        placeholder=t("ui-boards-find-by")
                        data-search=""
                        on:input=typed
                    />
                </div>
                <p class="hint" role="status">{told}</p>
                {rows}
            </section>
            <section aria-label=t("ui-boards-make")>
                <NewBoard sites refresh=Callback::new(move |()| refresh()) />
                <details class="box" data-open="sites">
                    <summary>{t("ui-boards-sites")}</summary>
                    {move || sites.get().into_iter().map(|site| site_row(site, report)).collect_view()}
                </details>
                <details class="box" data-open="import">
                    <summary>{t("ui-boards-bring-in")}</summary>
                    <p>{t("ui-boards-merge")}</p>
                    <label class="button file">
                        {t("ui-boards-bundle")}
                        <input type="file" data-import="bundle" on:change=bundle />
                    </label>
                    <label class="button file">
                        {t("ui-boards-survey")}
                        <input type="file" accept=".json,application/json" data-import="survey" on:change=survey />
                    </label>
                </details>
                {move || {
                    report
                        .get()
                        .map(|lines| {
                            view! {
                                <div class="said good" role="status" data-report="">
                                    {lines.into_iter().map(|line| view! { <p>{line}</p> }).collect_view()}
                                </div>
                            }
                        })
                }}
            </section>
        </div>
    }
    .into_any()
}

fn show(app: App, view: &View) {
    if let Some(board) = sheet::id_of(&view.board) {
        app.go(&Screen::Board(board, Part::Drawing));
    }
}

fn site_row(site: SiteRow, report: RwSignal<Option<Vec<String>>>) -> AnyView {
    let app = app();
    let name = site.name.clone();
    let export = move |_| {
        let name = name.clone();
        if !in_window() {
            // Straight to the disk: a site may be larger than a page can hold.
            let request = written(&api::SiteFile { site: site.id }).unwrap_or_default();
            files::download_from(&file_link(<api::SiteFile as api::Call>::NAME, &request));
            let _ = report.try_set(Some(vec![tr("ui-boards-browser-saves", &[("site", name.into())])]));
            return;
        }
        app.ask(api::ExportSite { site: site.id, save: true }, move |file| {
            let mut lines =
                vec![tr("ui-boards-written", &[("site", name.into()), ("file", file.name.as_str().into())])];
            if let Some(saved) = &file.saved {
                lines.push(tr("ui-boards-saved-as", &[("path", saved.as_str().into())]));
            }
            lines.extend(file.notes.iter().map(|note| tr("ui-boards-not-in-it", &[("what", note.as_str().into())])));
            let _ = report.try_set(Some(lines));
            app.say(t("ui-boards-bundle-out"));
        });
    };
    view! {
        <div class="row spread site" data-site=site.id.to_string()>
            <span>
                <strong>{site.name}</strong>
                {format!(" · {}", tr("ui-boards-count", &[("count", site.boards.into())]))}
            </span>
            <button type="button" data-export=site.id.to_string() on:click=export>
                {t("ui-boards-hand-on")}
            </button>
        </div>
    }
    .into_any()
}

#[component]
fn NewBoard(sites: RwSignal<Vec<SiteRow>>, refresh: Callback<()>) -> impl IntoView {
    let app = app();
    let patterns: RwSignal<Vec<(String, String)>> = RwSignal::new(Vec::new());
    app.ask(Patterns {}, move |list| drop(patterns.try_set(list.iter().map(pattern_words).collect())));
    let site = RwSignal::new(String::new());
    let new_site = RwSignal::new(String::new());
    let reference = RwSignal::new(String::new());
    let place = RwSignal::new(String::new());
    let pattern = RwSignal::new(String::new());
    let new = RwSignal::new(false);
    let picked_site = move || {
        let picked = site.get();
        if picked.is_empty() {
            sites.with(|sites| sites.first().map(|site| site.id.to_string())).unwrap_or_default()
        } else {
            picked
        }
    };
    let add_site = move |_| {
        let name = new_site.get_untracked().trim().to_owned();
        if name.is_empty() {
            return;
        }
        app.ask(api::CreateSite { name }, move |row| {
            app.say(tr("ui-boards-site-made", &[("site", row.name.as_str().into())]));
            let _ = new_site.try_set(String::new());
            let _ = site.try_set(row.id.to_string());
            refresh.run(());
        });
    };
    let make = move |event: web_sys::SubmitEvent| {
        event.prevent_default();
        let Ok(site) = untrack(picked_site).parse() else {
            let error = api::ApiError::failed(t("ui-boards-site-first"));
            return app.warn("", &error);
        };
        let pattern = pattern.get_untracked();
        let request = api::CreateBoard {
            site,
            reference: reference.get_untracked(),
            place: place.get_untracked(),
            pattern: (!pattern.is_empty()).then_some(pattern),
            new: new.get_untracked(),
        };
        spawn_local(async move {
            match call_as::<_, View>(request).await {
                Ok(view) => {
                    let reference = sheet::text(&view.board, "/reference");
                    app.say(tr("ui-boards-made", &[("board", reference.into())]));
                    show(app, &view);
                }
                Err(error) => app.warn(t("ui-boards-not-made"), &error),
            }
        });
    };
    view! {
        <details class="box" data-open="new-board">
            <summary>{t("ui-boards-new")}</summary>
            <div class="field">
                <label class="name" for="new-site">{t("ui-boards-new-site")}</label>
                <div class="row nowrap">
                    <input
                        id="new-site"
                        data-new="site"
                        autocomplete="off"
                        prop:value=move || new_site.get()
                        on:input=move |event| new_site.set(event_target_value(&event))
                    />
                    <button type="button" data-new="add-site" on:click=add_site>{t("ui-boards-add-site")}</button>
                </div>
            </div>
            <form on:submit=make>
                <div class="field">
                    <label class="name" for="board-site">{t("ui-boards-on-site")}</label>
                    <select id="board-site" data-new="board-site" on:change=move |event| site.set(event_target_value(&event))>
                        {move || {
                            let picked = picked_site();
                            sites
                                .get()
                                .into_iter()
                                .map(|row| {
                                    let id = row.id.to_string();
                                    view! { <option value=id.clone() selected=id == picked>{row.name}</option> }
                                })
                                .collect_view()
                        }}
                    </select>
                </div>
                <div class="field">
                    <label class="name" for="board-reference">{t("ui-boards-reference")}</label>
                    <input
                        id="board-reference"
                        data-new="reference"
                        autocomplete="off"
                        required
                        on:input=move |event| reference.set(event_target_value(&event))
                    />
                </div>
                <div class="field">
                    <label class="name" for="board-place">{t("ui-boards-place")}</label>
                    <input
                        id="board-place"
                        data-new="place"
                        autocomplete="off"
                        on:input=move |event| place.set(event_target_value(&event))
                    />
                </div>
                <div class="field">
                    <label class="name" for="board-pattern">{t("ui-enclosure")}</label>
                    <select id="board-pattern" data-new="pattern" on:change=move |event| pattern.set(event_target_value(&event))>
                        <option value="">{t("ui-boards-not-known")}</option>
                        {move || {
                            patterns
                                .get()
                                .into_iter()
                                .map(|pattern| view! { <option value=pattern.0>{pattern.1}</option> })
                                .collect_view()
                        }}
                    </select>
                </div>
                <label class="chip wide">
                    <input type="checkbox" data-new="to-be-built" on:change=move |event| new.set(event_target_checked(&event)) />
                    <span>{t("ui-boards-to-build")}</span>
                </label>
                <button type="submit" class="main" data-new="make">{t("ui-boards-make-it")}</button>
            </form>
        </details>
    }
    .into_any()
}
