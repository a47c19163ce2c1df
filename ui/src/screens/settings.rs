//! Role, theme, enclosure patterns, tables of one's own.

use leptos::prelude::*;
use leptos::task::spawn_local;
use serde_json::Value;

use crate::call::call_as;
use crate::files;
use crate::parts::checks::Cautions;
use crate::state::{Patterns, app};
use crate::theme::{self, THEMES};
use crate::words::{t, tr, yes};

/// Roles offered, each with its message; the role is stamped on what its holder enters.
const ROLES: [(&str, &str); 2] = [("surveyor", "ui-settings-surveyor"), ("office", "ui-settings-office")];

/// What concerns this installation.
#[component]
pub fn Settings() -> impl IntoView {
    let app = app();
    let chosen = RwSignal::new(theme::current());
    let role = move || app.about.with(|about| about.as_ref().map(|about| about.role.clone())).unwrap_or_default();
    let patterns = RwSignal::new(None::<usize>);
    app.ask(Patterns {}, move |list| {
        let _ = patterns.try_set(Some(list.len()));
    });
    let add = move |event: web_sys::Event| {
        let Some(file) = files::picked(&event) else { return };
        spawn_local(async move {
            let reply = match files::text(&file).await {
                Ok(toml) => call_as::<_, Vec<Value>>(api::AddPatterns { toml }).await,
                Err(error) => Err(error),
            };
            match reply {
                Ok(list) => {
                    let _ = patterns.try_set(Some(list.len()));
                    app.say(t("ui-settings-patterns-added"));
                }
                Err(error) => app.warn(t("ui-settings-pattern-not-added"), &error),
            }
        });
    };
    view! {
        <div class="single">
            <h2>{t("ui-settings")}</h2>
            <fieldset class="box">
                <legend>{t("ui-settings-look")}</legend>
                <div class="row">
                    {THEMES
                        .map(|(key, words)| {
                            view! {
                                <label class="chip">
                                    <input
                                        type="radio"
                                        name="theme"
                                        data-theme-choice=key
                                        prop:checked=move || chosen.with(|chosen| chosen == key)
                                        on:change=move |_| {
                                            theme::choose(key);
                                            chosen.set(key.to_owned());
                                        }
                                    />
                                    <span>{t(words)}</span>
                                </label>
                            }
                        })
                        .collect_view()}
                </div>
            </fieldset>
            <fieldset class="box">
                <legend>{t("ui-settings-role")}</legend>
                <div class="row">
                    {ROLES
                        .map(|(key, words)| {
                            view! {
                                <label class="chip">
                                    <input
                                        type="radio"
                                        name="role"
                                        data-role=key
                                        prop:checked=move || role() == key
                                        on:change=move |_| {
                                            app.ask(
                                                api::SetRole { role: key.to_owned() },
                                                move |about| {
                                                    app.about.set(Some(about));
                                                    app.say(t("ui-settings-role-set"));
                                                },
                                            );
                                        }
                                    />
                                    <span>{t(words)}</span>
                                </label>
                            }
                        })
                        .collect_view()}
                </div>
            </fieldset>
            <section class="box">
                <h3>{t("ui-settings-patterns")}</h3>
                <p>{move || patterns.get().map(|count| tr("ui-settings-patterns-known", &[("count", count.into())]))}</p>
                <label class="button file">
                    {t("ui-settings-add-patterns")}
                    <input type="file" accept=".toml" data-import="patterns" on:change=add />
                </label>
            </section>
            <Tables />
            <Soundness />
            <Cautions of=survey::Outlet::About full=true />
            <p class="soft">
                {move || {
                    app.about.with(|about| about.as_ref().map(|about| tr("ui-settings-version", &[("version", about.version.as_str().into())])))
                }}
            </p>
            <div class="row">
                <button
                    type="button"
                    data-back=""
                    on:click=move |_| {
                        if let Some(history) = web_sys::window().and_then(|window| window.history().ok()) {
                            let _ = history.back();
                        }
                    }
                >
                    {t("ui-back")}
                </button>
                <a class="button" href="#/">{t("ui-all-boards")}</a>
            </div>
        </div>
    }
    .into_any()
}

/// Whether every stored change and photo still reads as it was saved.
#[component]
fn Soundness() -> impl IntoView {
    let app = app();
    let found = RwSignal::new(Value::Null);
    let ask = move |again: bool| app.ask_json(api::CheckStore { again }, move |reply| drop(found.try_set(reply)));
    ask(false);
    // It goes on by itself; here it is only looked at more often.
    Effect::new(move |_| {
        if found.with(|found| found.is_object() && found["finished"].is_null()) {
            set_timeout(move || ask(false), std::time::Duration::from_millis(300));
        }
    });
    let words = move || {
        found.with(|found| {
            if found.is_null() {
                return String::new();
            }
            let at = found["finished"].as_str();
            let message = if at.is_some() { "ui-settings-sound-found" } else { "ui-settings-sound-under-way" };
            let at = at.map_or("", |at| at.get(..16).unwrap_or(at));
            tr(
                message,
                &[
                    ("documents", found["documents"].clone()),
                    ("changes", found["changes"].clone()),
                    ("photos", found["photos"].clone()),
                    ("healed", found["healed"].clone()),
                    ("bad", found["bad"].as_array().map_or(0, Vec::len).into()),
                    ("at", at.into()),
                ],
            )
        })
    };
    let bad = move || {
        let line = |line: &Value| view! { <li>{line.as_str().unwrap_or_default().to_owned()}</li> };
        found.with(|found| found["bad"].as_array().into_iter().flatten().map(line).collect_view())
    };
    view! {
        <section class="box" data-soundness="">
            <h3>{t("ui-settings-sound")}</h3>
            <p>{t("ui-settings-sound-how")}</p>
            <p role="status">{words}</p>
            <ul>{bad}</ul>
            <button type="button" on:click=move |_| ask(true)>{t("ui-settings-sound-check")}</button>
        </section>
    }
    .into_any()
}

/// A table that counts: name, whose it is where it is one's own, rows.
type Counts = (String, Option<String>, u64);

fn counting(reply: &Value) -> Vec<Counts> {
    let read = |row: &Value| {
        let whose = row["whose"].as_str().map(str::to_owned);
        Some((row["name"].as_str()?.to_owned(), whose, row["rows"].as_u64()?))
    };
    reply.as_array().into_iter().flatten().filter_map(read).collect()
}

/// Tables of one's own in the place of ours.
#[component]
fn Tables() -> impl IntoView {
    let app = app();
    let tables = RwSignal::new(Vec::<Counts>::new());
    let chosen = RwSignal::new(Vec::<api::TableFile>::new());
    let whose = RwSignal::new(String::new());
    let refused = RwSignal::new(Vec::<String>::new());
    app.ask_json(api::ListTables {}, move |reply| drop(tables.try_set(counting(&reply))));
    let refuse = move |error: &api::ApiError| {
        let mut lines: Vec<String> = error.problems.iter().map(refusal).collect();
        if lines.is_empty() {
            lines.push(error.message.clone());
        }
        let _ = refused.try_set(lines);
    };
    let choose = move |event: web_sys::Event| {
        let picked = files::picked_all(&event);
        refused.set(Vec::new());
        spawn_local(async move {
            let mut read = Vec::new();
            for file in picked {
                match files::base64(&file).await {
                    Ok(base64) => read.push(api::TableFile { name: file.name(), base64 }),
                    Err(error) => return refuse(&error),
                }
            }
            let _ = chosen.try_set(read);
        });
    };
    let take = move |_| {
        let request = api::TakeTables { whose: whose.get_untracked(), files: chosen.get_untracked() };
        refused.set(Vec::new());
        spawn_local(async move {
            let reply = call_as::<_, Value>(request).await;
            // What was read may be mended on the disk by now: it is chosen anew.
            let _ = chosen.try_set(Vec::new());
            match reply {
                Ok(reply) => {
                    let _ = tables.try_set(counting(&reply));
                    app.say(t("ui-tables-taken"));
                }
                Err(error) => refuse(&error),
            }
        });
    };
    let put_back = move |names: Vec<String>| {
        refused.set(Vec::new());
        app.ask_json(api::PutBackTables { tables: names }, move |reply| {
            let _ = tables.try_set(counting(&reply));
            app.say(t("ui-tables-put-back"));
        });
    };
    let own = move || tables.get().into_iter().filter_map(|(name, whose, rows)| Some((name, whose?, rows)));
    let ours = move || tables.get().into_iter().filter(|(_, whose, _)| whose.is_none());
    let download = move |name: &str| {
        let (file, table) = (format!("{name}.csv"), name.to_owned());
        let save = view! {
            <button
                type="button"
                data-table-text=name.to_owned()
                aria-label=tr("ui-tables-save", &[("file", file.as_str().into())])
                on:click=move |_| {
                    let file = file.clone();
                    app.ask(api::TableText { table: table.clone() }, move |text| {
                        files::download_text(&file, &text, "text/csv");
                    });
                }
            >
                {t("ui-tables-save-csv")}
            </button>
        };
        save.into_any()
    };
    view! {
        <section class="box" data-tables="">
            <h3>{t("ui-tables")}</h3>
            <p>
                {t("ui-tables-what")}
            </p>
            {move || {
                let own = own()
                    .map(|(name, whose, rows)| {
                        let back = name.clone();
                        view! {
                            <li data-own-table=name.clone()>
                                <span class="row spread">
                                    <span>
                                        <strong>{format!("{name}.csv")}</strong>
                                        {tr("ui-tables-own", &[("whose", whose.into()), ("count", rows.into())])}
                                    </span>
                                    <span class="row">
                                        {download(&name)}
                                        <button
                                            type="button"
                                            data-table-back=name.clone()
                                            aria-label=tr("ui-tables-use-our", &[("file", format!("{name}.csv").into())])
                                            on:click=move |_| put_back(vec![back.clone()])
                                        >
                                            {t("ui-tables-use-ours")}
                                        </button>
                                    </span>
                                </span>
                            </li>
                        }
                    })
                    .collect_view();
                if own.is_empty() {
                    return view! { <p data-no-own-table="">{t("ui-tables-none")}</p> }.into_any();
                }
                view! {
                    <h4>{t("ui-tables-yours")}</h4>
                    <ul class="plain-list">{own}</ul>
                    <div class="row">
                        <button type="button" data-tables-back="" on:click=move |_| put_back(Vec::new())>
                            {t("ui-tables-use-all-ours")}
                        </button>
                    </div>
                }
                    .into_any()
            }}
            <details data-open="tables">
                <summary>{move || tr("ui-tables-ours", &[("count", ours().count().into())])}</summary>
                <ul class="plain-list">
                    {move || {
                        ours()
                            .map(|(name, _, rows)| {
                                view! {
                                    <li class="row spread">
                                        <span>{tr("ui-tables-file", &[("file", format!("{name}.csv").into()), ("count", rows.into())])}</span>
                                        {download(&name)}
                                    </li>
                                }
                            })
                            .collect_view()
                    }}
                </ul>
            </details>
            <label class="button file">
                {t("ui-tables-choose")}
                <input type="file" accept=".csv,text/csv" multiple data-import="tables" on:change=choose />
            </label>
            {move || {
                let names = chosen.with(|chosen| chosen.iter().map(|file| file.name.clone()).collect::<Vec<_>>());
                (!names.is_empty()).then(|| view! { <p data-chosen="" class="path">{tr("ui-tables-chosen", &[("files", names.join(", ").into())])}</p> })
            }}
            <div class="field">
                <label class="name" for="whose">{t("ui-tables-whose")}</label>
                <input
                    id="whose"
                    data-whose=""
                    maxlength="200"
                    autocomplete="off"
                    prop:value=move || whose.get()
                    on:input=move |event| whose.set(event_target_value(&event))
                />
            </div>
            <button
                type="button"
                data-tables-take=""
                disabled=move || chosen.with(Vec::is_empty) || whose.with(|whose| whose.trim().is_empty())
                on:click=take
            >
                {t("ui-tables-take")}
            </button>
            {move || {
                let lines = refused.get();
                (!lines.is_empty())
                    .then(|| {
                        view! {
                            <div class="said bad" role="alert" data-tables-refused="">
                                <p><strong>{t("ui-tables-refused")}</strong></p>
                                {lines.into_iter().map(|line| view! { <p class="path">{line}</p> }).collect_view()}
                                <p>{t("ui-tables-mend")}</p>
                            </div>
                        }
                    })
            }}
        </section>
    }
    .into_any()
}

/// A refused table as a person reads it: the place is a file and a line, no field.
fn refusal(problem: &survey::Problem) -> String {
    tr(
        "ui-tables-refusal",
        &[
            ("place", problem.path.to_string().into()),
            ("message", problem.message.to_string().into()),
            ("found", yes(!problem.value.is_empty())),
            ("value", problem.value.to_string().into()),
            ("remedy", problem.remedy.to_string().into()),
        ],
    )
}
