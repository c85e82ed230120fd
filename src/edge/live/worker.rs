//! A watch, or a look at one, runs on one worker beside the thread that began it.

use std::time::Duration;

use anyhow::Context as _;

use super::fault::alarm_on_panic;

/// How long what still runs at the end is waited for.
const LEFT_WITHIN: Duration = Duration::from_millis(200);

/// Runs a task to its end; what breaks on the way sounds the alarm and ends the program by `broken`.
///
/// # Errors
/// The task's, or that there is no thread to run it on.
pub(in crate::edge) fn to_its_end(
    broken: fn() -> !,
    task: impl Future<Output = anyhow::Result<()>>,
) -> anyhow::Result<()> {
    alarm_on_panic(broken);
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(1)
        .enable_all()
        .build()
        .context("The operating system gives no thread to run on.")?;
    let done = runtime.block_on(task);
    // A reader that waits for its keyboard or port must not keep a finished program alive.
    runtime.shutdown_timeout(LEFT_WITHIN);
    done
}
