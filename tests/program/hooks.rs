//! The commands of `assets/hooks` tell others of alerts: by the real `curl`, `mosquitto_pub` and `msmtp`, to servers that
//! the tests play. Where one of them is not installed its tests say so and pass; `.ci/run` installs them.
#![cfg(unix)]

use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::{TcpListener, TcpStream};
use std::path::PathBuf;
use std::process::{Command, Output, Stdio};
use std::thread::JoinHandle;

use crate::pages::root;
use crate::support::program::{Boat, PATIENCE, free_udp_port};

/// What a receiver's text may hold: nothing of it may be run, or end a line of a message's head.
const WHAT: &str = "41 m from the anchor; $(touch broken) `touch broken` \" \\ é\r\nBcc: all@example.org";

fn is_installed(program: &str) -> bool {
    let found = Command::new("sh").args(["-c", &format!("command -v {program}")]).output();
    let found = found.is_ok_and(|found| found.status.success());
    if !found {
        eprintln!("{program} is not installed: not tried");
    }
    found
}

fn script(name: &str) -> PathBuf {
    root().join("assets/hooks").join(name)
}

/// Runs a command of `assets/hooks` as the watch runs its hook.
fn run(name: &str, args: &[&str], priority: &str, change: &str) -> Output {
    let title = if change == "rehearsed" { "REHEARSAL" } else { "DRAGGING" };
    let kind = if change == "rehearsed" { "rehearsal" } else { "drag" };
    let home = tempfile::tempdir().expect("a folder");
    let mut child = Command::new(script(name))
        .args(args)
        .current_dir(home.path())
        .env("HOME", home.path())
        .env_remove("XDG_CONFIG_HOME")
        .envs([("NIGHTRODE_BOAT", "Marram"), ("NIGHTRODE_TIME", "2026-06-03T02:14:00.000Z")])
        .envs([("NIGHTRODE_CHANGE", change), ("NIGHTRODE_KIND", kind), ("NIGHTRODE_TITLE", title)])
        .envs([("NIGHTRODE_PRIORITY", priority), ("NIGHTRODE_STATE", "unacknowledged")])
        .envs([("NIGHTRODE_WHAT", WHAT), ("NIGHTRODE_ACTION", "Go on deck.")])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("it starts");
    // One that has nothing to say reads nothing.
    let _ = child.stdin.take().expect("piped").write_all(b"{\"alert\":{\"change\":\"raised\"}}\n");
    let done = child.wait_with_output().expect("it ends");
    assert!(!home.path().join("broken").exists(), "something of the alert was run");
    done
}

fn went_through(done: &Output) {
    assert!(done.status.success(), "{done:?}");
}

/// A server for one link: where it listens, and what it has heard when the link has ended.
fn serve<T: Send + 'static>(one: impl FnOnce(TcpStream) -> T + Send + 'static) -> (u16, JoinHandle<T>) {
    let listener = TcpListener::bind("127.0.0.1:0").expect("a port");
    let port = listener.local_addr().expect("bound").port();
    let served = std::thread::spawn(move || {
        let (stream, _) = listener.accept().expect("somebody comes");
        stream.set_read_timeout(Some(PATIENCE)).expect("set");
        one(stream)
    });
    (port, served)
}

/// A port at which nobody listens.
fn nobody() -> u16 {
    TcpListener::bind("127.0.0.1:0").and_then(|listener| listener.local_addr()).expect("a port").port()
}

/// Answers one POST with this status; gives its head and its body.
fn http(stream: TcpStream, status: &str) -> (String, String) {
    let mut read = BufReader::new(stream.try_clone().expect("a stream"));
    let mut head = String::new();
    while !head.ends_with("\r\n\r\n") {
        assert!(read.read_line(&mut head).expect("a head") > 0, "{head}");
    }
    let length =
        head.lines().find_map(|line| line.to_lowercase().strip_prefix("content-length: ")?.parse().ok());
    let mut body = vec![0; length.expect("a length")];
    read.read_exact(&mut body).expect("a body");
    let mut stream = stream;
    write!(stream, "HTTP/1.1 {status}\r\nContent-Length: 0\r\nConnection: close\r\n\r\n").expect("answered");
    (head, String::from_utf8(body).expect("UTF-8"))
}

#[test]
fn a_push_server_hears_of_alarms_and_rehearsals_and_no_word_of_it_is_run() {
    if !is_installed("curl") {
        return;
    }
    let secret = tempfile::NamedTempFile::new().expect("a file");
    std::fs::write(secret.path(), "header = \"Authorization: Bearer sesame\"\n").expect("written");
    let (port, heard) = serve(|stream| http(stream, "200 OK"));
    let url = format!("http://127.0.0.1:{port}/boat");
    went_through(&run("push", &[&url, &secret.path().display().to_string()], "alarm", "raised"));
    let (head, body) = heard.join().expect("served");
    assert!(head.starts_with("POST /boat HTTP/1.1\r\n") && head.contains("Bearer sesame"), "{head}");
    let words = format!("Marram: DRAGGING, raised\n{WHAT}\nGo on deck.\n2026-06-03T02:14:00.000Z\n");
    assert_eq!(body, words);
    let (port, heard) = serve(|stream| http(stream, "200 OK"));
    let url = format!("http://127.0.0.1:{port}/");
    went_through(&run("push", &[&url], "rehearsal", "rehearsed"));
    assert!(heard.join().expect("served").1.starts_with("Marram: REHEARSAL, rehearsed\n"));
}

#[test]
fn a_push_server_that_is_away_or_refuses_is_a_failed_hook_and_a_caution_is_not_passed_on() {
    if !is_installed("curl") {
        return;
    }
    let url = format!("http://127.0.0.1:{}/", nobody());
    let away = run("push", &[&url], "alarm", "raised");
    assert!(!away.status.success() && !away.stderr.is_empty(), "{away:?}");
    went_through(&run("push", &[&url], "caution", "raised"));
    went_through(&run("push", &[&url], "alarm", "silenced"));
    let (port, heard) = serve(|stream| http(stream, "403 Forbidden"));
    let refused = run("push", &[&format!("http://127.0.0.1:{port}/")], "alarm", "raised");
    assert!(!refused.status.success(), "{refused:?}");
    heard.join().expect("served");
}

/// Reads a packet of MQTT 3.1.1 (OASIS standard, chapter 2): its first byte, and what follows its length.
fn packet(stream: &mut TcpStream) -> (u8, Vec<u8>) {
    let mut byte = || {
        let mut one = [0];
        stream.read_exact(&mut one).expect("a byte");
        one[0]
    };
    let first = byte();
    let (mut length, mut shift) = (0, 0);
    loop {
        let part = byte();
        length |= usize::from(part & 0x7f) << shift;
        shift += 7;
        if part < 0x80 {
            break;
        }
    }
    let mut body = vec![0; length];
    stream.read_exact(&mut body).expect("the packet");
    (first, body)
}

/// A broker for one message: the first byte of PUBLISH, its topic and its words. It confirms with PUBACK (chapter 3).
fn mqtt(mut stream: TcpStream) -> (u8, String, String) {
    let (connect, _) = packet(&mut stream);
    assert_eq!(connect >> 4, 1, "CONNECT");
    stream.write_all(&[0x20, 2, 0, 0]).expect("CONNACK");
    let (first, body) = packet(&mut stream);
    assert_eq!(first >> 4, 3, "PUBLISH");
    let topic = 2 + usize::from(u16::from_be_bytes([body[0], body[1]]));
    stream.write_all(&[0x40, 2, body[topic], body[topic + 1]]).expect("PUBACK");
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).expect("UTF-8");
    (first, text(&body[2..topic]), text(&body[topic + 2..]))
}

#[test]
fn a_broker_keeps_how_each_kind_stands_and_no_rehearsal() {
    if !is_installed("mosquitto_pub") {
        return;
    }
    for (change, topic, kept) in [("raised", "boat/alert/drag", 1), ("rehearsed", "boat/alert/rehearsal", 0)]
    {
        let (port, heard) = serve(mqtt);
        went_through(&run("mqtt", &["127.0.0.1", &port.to_string(), "boat/alert"], "alarm", change));
        let (first, at, words) = heard.join().expect("served");
        assert_eq!((at.as_str(), words.trim()), (topic, "{\"alert\":{\"change\":\"raised\"}}"));
        // MQTT 3.1.1, 3.3.1: the last bit is RETAIN, the two before it the quality of service.
        assert_eq!((first & 1, first >> 1 & 3), (kept, 1));
    }
    let away = run("mqtt", &["127.0.0.1", &nobody().to_string(), "boat/alert"], "alarm", "raised");
    assert!(!away.status.success(), "{away:?}");
}

/// Takes one mail (RFC 5321); gives the commands, and the mail.
fn smtp(stream: TcpStream) -> (Vec<String>, String) {
    let mut read = BufReader::new(stream.try_clone().expect("a stream"));
    let mut stream = stream;
    let mut say = |words: &str| write!(stream, "{words}\r\n").expect("said");
    let (mut commands, mut mail) = (Vec::new(), String::new());
    say("220 shore.example.org");
    loop {
        let mut line = String::new();
        if read.read_line(&mut line).expect("a line") == 0 {
            return (commands, mail);
        }
        commands.push(line.trim().to_owned());
        match line.get(..4).unwrap_or_default() {
            "QUIT" => {
                say("221 bye");
                return (commands, mail);
            }
            "DATA" => {
                say("354 go on");
                while !mail.ends_with("\r\n.\r\n") {
                    assert!(read.read_line(&mut mail).expect("the mail") > 0);
                }
                say("250 taken");
            }
            _ => say("250 well"),
        }
    }
}

#[test]
fn a_mail_is_written_whose_head_nothing_of_an_alert_can_reach() {
    if !is_installed("msmtp") {
        return;
    }
    let account = |port: u16| {
        let file = tempfile::NamedTempFile::new().expect("a file");
        let text = format!(
            "account default\nhost 127.0.0.1\nport {port}\nfrom marram@example.org\nauth off\ntls off\n"
        );
        std::fs::write(file.path(), text).expect("written");
        file
    };
    let (port, heard) = serve(smtp);
    let file = account(port);
    let named = file.path().display().to_string();
    went_through(&run("mail", &["me@example.org", &named], "alarm", "raised"));
    let (commands, mail) = heard.join().expect("served");
    let given = |start: &str| commands.iter().filter(|line| line.starts_with(start)).count();
    assert_eq!((given("RCPT TO:<me@example.org>"), given("RCPT")), (1, 1), "{commands:?}");
    let (head, body) = mail.split_once("\r\n\r\n").expect("head and body");
    assert!(head.contains("Subject: DRAGGING, raised\r\n") && !head.contains("Bcc"), "{head}");
    assert!(body.starts_with("Marram\r\n41 m from the anchor; $(touch broken)"), "{body}");
    went_through(&run("mail", &["me@example.org", &named], "warning", "raised"));
    let file = account(nobody());
    let away = run("mail", &["me@example.org", &file.path().display().to_string()], "alarm", "raised");
    assert!(!away.status.success(), "{away:?}");
}

#[test]
fn the_watch_itself_runs_such_a_command_and_it_comes_through() {
    if !is_installed("curl") {
        return;
    }
    let boat = Boat::new();
    let (port, heard) = serve(|stream| http(stream, "204 No Content"));
    boat.configure(&format!(
        "[alerts]\nhook = [{:?}, \"http://127.0.0.1:{port}/boat\"]\n",
        script("push").display().to_string()
    ));
    boat.unfinished_ride();
    let mut watch = boat.watch_headless(&[&format!("gps=udp:{}", free_udp_port())]);
    watch.wait_for("gap raised");
    let (_, body) = heard.join().expect("served");
    assert!(body.starts_with("Marram: "), "{body}");
    watch.terminate();
}
