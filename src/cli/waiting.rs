//! Waits for what answers in its own time: feeds that are listened to, a watch or a system that is asked.

use std::io;

/// Runs a task on this thread to its end. Reads that nothing can break off, such as that of standard input, are left behind.
///
/// # Errors
/// If the operating system gives no timer or network.
pub(super) fn wait_for<T>(task: impl Future<Output = T>) -> io::Result<T> {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build()?;
    let done = runtime.block_on(task);
    runtime.shutdown_background();
    Ok(done)
}
