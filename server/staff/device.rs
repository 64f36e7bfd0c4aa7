//! What kind of device a browser says it runs on, so that people know their sign-ins apart.

/// `phone`, `tablet` or `computer`, with the browser's own words shortened.
#[must_use]
pub fn words(user_agent: &str) -> String {
    let kind = if user_agent.contains("iPad") || user_agent.contains("Tablet") {
        "tablet"
    } else if user_agent.contains("Mobile") || user_agent.contains("Android") {
        "phone"
    } else {
        "computer"
    };
    let own: String = user_agent.chars().filter(|letter| letter.is_ascii_graphic() || *letter == ' ').take(90).collect();
    if own.trim().is_empty() { "unknown device".to_owned() } else { format!("{kind} ({})", own.trim()) }
}
