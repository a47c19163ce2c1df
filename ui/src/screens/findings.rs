//! Everything the app found: conflicts, doubts, checks.

use leptos::prelude::*;
use survey::{Check, Verdict};

use crate::parts::checks::{Cautions, badge, card, counts};
use crate::parts::conflict::Conflicts;
use crate::parts::faults::FaultTable;
use crate::parts::weigh::TakeNext;
use crate::state::{app, problem_words};
use crate::words::t;

/// All findings of the board.
#[component]
pub fn Findings() -> impl IntoView {
    let app = app();
    let checks: Memo<Vec<Check>> = Memo::new(move |_| {
        app.of_view(|view| {
            let mut checks = view.checks.clone();
            checks.sort_by_key(|check| check.verdict);
            checks
        })
        .unwrap_or_default()
    });
    let problems = Memo::new(move |_| app.of_view(|view| view.problems.clone()).unwrap_or_default());
    let conflicts = Memo::new(move |_| app.of_view(|view| view.conflicts.len()).unwrap_or_default());
    let shown = RwSignal::new([true, true, true, false]);
    let filter = move |index: usize, verdict: Verdict| {
        let count = move || counts(&checks.get())[index].1;
        view! {
            <button
                type="button"
                class="filter"
                data-filter=verdict.key()
                aria-pressed=move || shown.get()[index].to_string()
                on:click=move |_| shown.update(|shown| shown[index] = !shown[index])
            >
                <span aria-hidden="true">{move || if shown.get()[index] { "☑ " } else { "☐ " }}</span>
                {badge(Some(verdict))}
                {move || count()}
            </button>
        }
    };
    let on = move |verdict| {
        let shown = shown.get();
        match verdict {
            Verdict::Fails => shown[0],
            Verdict::Advised => shown[1],
            Verdict::Undecided => shown[2],
            Verdict::Holds => shown[3],
        }
    };
    view! {
        <div class="single">
            <h2>{t("ui-findings")}</h2>
            <Cautions of=survey::Outlet::Findings full=true />
            {move || {
                (conflicts.get() > 0)
                    .then(|| {
                        view! {
                            <section aria-label=t("ui-findings-two-values") data-conflicts="">
                                <h3>{t("ui-findings-settle")}</h3>
                                <Conflicts path=String::new() />
                            </section>
                        }
                    })
            }}
            {move || {
                let problems = problems.get();
                (!problems.is_empty())
                    .then(|| {
                        view! {
                            <section aria-label=t("ui-findings-look")>
                                <h3>{t("ui-findings-look")}</h3>
                                {problems
                                    .into_iter()
                                    .map(|problem| {
                                        let path = problem.path.clone();
                                        view! {
                                            <div class="said doubt" data-problem=problem.path.clone()>
                                                <p>{problem_words(&problem)}</p>
                                                <button type="button" on:click=move |_| app.jump(&path)>
                                                    {t("ui-go-there")}
                                                </button>
                                            </div>
                                        }
                                    })
                                    .collect_view()}
                            </section>
                        }
                    })
            }}
            <TakeNext />
            <section aria-label=t("ui-checks")>
                <h3>{t("ui-checks")}</h3>
                <div class="row" role="group" aria-label=t("ui-findings-show")>
                    {filter(0, Verdict::Fails)} {filter(1, Verdict::Advised)} {filter(2, Verdict::Undecided)}
                    {filter(3, Verdict::Holds)}
                </div>
                <div class="cards grid">
                    {move || {
                        let cards: Vec<_> = checks
                            .get()
                            .into_iter()
                            .filter(|check| on(check.verdict))
                            .map(|check| card(check, true))
                            .collect();
                        if cards.is_empty() {
                            view! { <p class="empty">{t("ui-findings-none")}</p> }.into_any()
                        } else {
                            cards.into_any()
                        }
                    }}
                </div>
            </section>
            <FaultTable />
        </div>
    }
    .into_any()
}
