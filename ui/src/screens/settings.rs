//! Role, theme, enclosure patterns.

use leptos::prelude::*;
use leptos::task::spawn_local;

use crate::call::call_as;
use crate::files;
use crate::parts::checks::Cautions;
use crate::state::{Patterns, app};
use crate::theme::{self, THEMES};

/// Roles offered; each is stamped on what its holder enters.
const ROLES: [(&str, &str); 2] = [("surveyor", "Surveyor"), ("office", "Office")];

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
                Ok(toml) => call_as::<_, Vec<serde_json::Value>>(api::AddPatterns { toml }).await,
                Err(error) => Err(error),
            };
            match reply {
                Ok(list) => {
                    let _ = patterns.try_set(Some(list.len()));
                    app.say("Enclosure patterns added.");
                }
                Err(error) => app.warn("No pattern was added.", &error),
            }
        });
    };
    view! {
        <div class="single">
            <h2>"Settings"</h2>
            <fieldset class="box">
                <legend>"Look"</legend>
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
                                    <span>{words}</span>
                                </label>
                            }
                        })
                        .collect_view()}
                </div>
            </fieldset>
            <fieldset class="box">
                <legend>"Your role: it is kept with every reading you enter"</legend>
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
                                                    app.say("Role set.");
                                                },
                                            );
                                        }
                                    />
                                    <span>{words}</span>
                                </label>
                            }
                        })
                        .collect_view()}
                </div>
            </fieldset>
            <section class="box">
                <h3>"Enclosure patterns"</h3>
                <p>{move || patterns.get().map(|count| format!("{count} patterns are known here."))}</p>
                <label class="button file">
                    "Add patterns (TOML)…"
                    <input type="file" accept=".toml" data-import="patterns" on:change=add />
                </label>
            </section>
            <Cautions full=true />
            <p class="soft">
                {move || {
                    app.about.with(|about| about.as_ref().map(|about| format!("Waywright {}", about.version)))
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
                    "Back"
                </button>
                <a class="button" href="#/">"All boards"</a>
            </div>
        </div>
    }
    .into_any()
}
