//! Sites and boards: find, make, bring in, hand on.

use std::time::Duration;

use api::{BoardList, SiteRow};
use leptos::leptos_dom::helpers::TimeoutHandle;
use leptos::prelude::*;
use leptos::task::spawn_local;

use crate::call::{call, call_as, call_with, file_path, in_window, written};
use crate::files;
use crate::route::{Part, Screen};
use crate::screens::board::pattern_words;
use crate::sheet::{self, View};
use crate::state::{App, Patterns, app};

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
                Err(error) => app.warn("The list could not be read.", &error),
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
            let words = if query.get().is_empty() {
                "There is no board yet. Make a site, then a board on it."
            } else {
                "No board matches these words."
            };
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
                    view! { <span class="count">{format!("⇄ {} to settle", row.conflicts)}</span> }
                });
                let circuits =
                    if row.circuits == 1 { "1 circuit".to_owned() } else { format!("{} circuits", row.circuits) };
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
                <ul class="board-list" aria-label="Boards">{rows}</ul>
                {more.then(|| view! { <p class="hint">{format!("The first {shown} of {} boards. Add words to narrow the list.", list.total)}</p> })}
            }
            .into_any(),
        )
    };
    let told = move || {
        found
            .get()
            .map(|list| if list.total == 1 { "1 board".to_owned() } else { format!("{} boards", list.total) })
            .unwrap_or_default()
    };

    let bundle = move |event: web_sys::Event| {
        let Some(file) = files::picked(&event) else { return };
        spawn_local(async move {
            let name = file.name();
            match call_with(api::BundleFile {}, &file).await {
                Ok(done) => {
                    let mut lines = vec![
                        format!("{name} was brought in."),
                        format!("New boards: {}. Boards merged: {}.", done.new_boards, done.merged_boards),
                        match done.healed {
                            0 => format!("Changes: {}. Photos: {}.", done.changes, done.photos),
                            healed => format!(
                                "Changes: {}. Photos: {}. Sound again that had gone bad here: {healed}.",
                                done.changes, done.photos
                            ),
                        },
                        match done.conflicts {
                            0 => "Nothing is left to settle.".to_owned(),
                            1 => "One field has two values: pick one under the findings of its board.".to_owned(),
                            many => format!(
                                "{many} fields have two values: pick one each under the findings of their boards."
                            ),
                        },
                    ];
                    if done.missing_photos > 0 {
                        lines.push(format!(
                            "Photos that its boards speak of and that are neither in it nor here: {}.",
                            done.missing_photos
                        ));
                    }
                    let _ = report.try_set(Some(lines));
                    app.say("Bundle brought in.");
                    refresh();
                }
                Err(error) => app.warn(&format!("{name} was not brought in."), &error),
            }
        });
    };
    let survey = move |event: web_sys::Event| {
        let Some(file) = files::picked(&event) else { return };
        spawn_local(async move {
            let name = file.name();
            let reply = match files::text(&file).await {
                Ok(text) => call_as::<_, View>(api::ImportSurvey { text }).await,
                Err(error) => Err(error),
            };
            match reply {
                Ok(view) => {
                    let read = format!("{name} was read: board {}.", sheet::text(&view.board, "/reference"));
                    if view.told.is_empty() {
                        app.say(read);
                    } else {
                        app.point_out(read, view.told.clone());
                    }
                    show(app, &view);
                }
                Err(error) => app.warn(&format!("{name} was not read. Nothing was changed."), &error),
            }
        });
    };

    view! {
        <div class="columns">
            <section aria-label="Find a board">
                <div class="field">
                    <label class="name" for="search">"Find a board"</label>
                    <input
                        id="search"
                        type="search"
                        autocomplete="off"
                        placeholder="reference, place, site or circuit"
                        data-search=""
                        on:input=typed
                    />
                </div>
                <p class="hint" role="status">{told}</p>
                {rows}
            </section>
            <section aria-label="Make, bring in, hand on">
                <NewBoard sites refresh=Callback::new(move |()| refresh()) />
                <details class="box" data-open="sites">
                    <summary>"Sites"</summary>
                    {move || sites.get().into_iter().map(|site| site_row(site, report)).collect_view()}
                </details>
                <details class="box" data-open="import">
                    <summary>"Bring in a file"</summary>
                    <p>"A bundle from a colleague is merged: nothing is overwritten. Where both of you changed one field, both values are kept until one is picked."</p>
                    <label class="button file">
                        "Bundle of a site…"
                        <input type="file" data-import="bundle" on:change=bundle />
                    </label>
                    <label class="button file">
                        "Survey of one board (JSON)…"
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
            files::download_from(&file_path(<api::SiteFile as api::Call>::NAME, &request));
            let _ = report.try_set(Some(vec![format!("{name}: the browser saves the bundle.")]));
            return;
        }
        app.ask(api::ExportSite { site: site.id, save: true }, move |file| {
            let mut lines = vec![format!("{name}: written to {}.", file.name)];
            if let Some(saved) = &file.saved {
                lines.push(format!("Saved as {saved}"));
            }
            lines.extend(file.notes.iter().map(|note| format!("Not in it: {note}")));
            let _ = report.try_set(Some(lines));
            app.say("Bundle written.");
        });
    };
    view! {
        <div class="row spread site" data-site=site.id.to_string()>
            <span>
                <strong>{site.name}</strong>
                {format!(" · {} board{}", site.boards, if site.boards == 1 { "" } else { "s" })}
            </span>
            <button type="button" data-export=site.id.to_string() on:click=export>
                "Hand on as a bundle"
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
            app.say(format!("Site {} made.", row.name));
            let _ = new_site.try_set(String::new());
            let _ = site.try_set(row.id.to_string());
            refresh.run(());
        });
    };
    let make = move |event: web_sys::SubmitEvent| {
        event.prevent_default();
        let Ok(site) = untrack(picked_site).parse() else {
            let error = api::ApiError::failed("Make a site first: every board stands on one.");
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
                    app.say(format!("Board {} made.", sheet::text(&view.board, "/reference")));
                    show(app, &view);
                }
                Err(error) => app.warn("No board was made.", &error),
            }
        });
    };
    view! {
        <details class="box" data-open="new-board">
            <summary>"New board or site"</summary>
            <div class="field">
                <label class="name" for="new-site">"New site"</label>
                <div class="row nowrap">
                    <input
                        id="new-site"
                        data-new="site"
                        autocomplete="off"
                        prop:value=move || new_site.get()
                        on:input=move |event| new_site.set(event_target_value(&event))
                    />
                    <button type="button" data-new="add-site" on:click=add_site>"Add site"</button>
                </div>
            </div>
            <form on:submit=make>
                <div class="field">
                    <label class="name" for="board-site">"Board on site"</label>
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
                    <label class="name" for="board-reference">"Reference"</label>
                    <input
                        id="board-reference"
                        data-new="reference"
                        autocomplete="off"
                        required
                        on:input=move |event| reference.set(event_target_value(&event))
                    />
                </div>
                <div class="field">
                    <label class="name" for="board-place">"Where it hangs"</label>
                    <input
                        id="board-place"
                        data-new="place"
                        autocomplete="off"
                        on:input=move |event| place.set(event_target_value(&event))
                    />
                </div>
                <div class="field">
                    <label class="name" for="board-pattern">"Enclosure"</label>
                    <select id="board-pattern" data-new="pattern" on:change=move |event| pattern.set(event_target_value(&event))>
                        <option value="">"not known yet"</option>
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
                    <span>"It is yet to be built"</span>
                </label>
                <button type="submit" class="main" data-new="make">"Make the board"</button>
            </form>
        </details>
    }
    .into_any()
}
