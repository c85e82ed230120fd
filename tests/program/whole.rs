//! The program itself, without a screen, as a crew would run it: real files, sockets, serial lines and commands.
#![cfg(unix)]

use std::fs;

use std::io::{BufRead as _, BufReader, Write as _};
use std::net::{TcpListener, UdpSocket};
use std::process::Stdio;

use crate::support::program::{Boat, PATIENCE, free_udp_port, sentence, text_of, until};
use serialport::{SerialPort as _, TTYPort};

fn is_running(process: u32) -> bool {
    let asked =
        std::process::Command::new("kill").args(["-0", &process.to_string()]).stderr(Stdio::null()).status();
    asked.expect("kill runs").success()
}

#[test]
fn serial_line_udp_and_tcp_feed_one_watch_and_each_comes_back_after_it_was_lost() {
    let boat = Boat::new();
    let ride = boat.unfinished_ride();
    let link = boat.path("gps-port");
    let udp_port = free_udp_port();
    let server = TcpListener::bind("127.0.0.1:0").expect("a port");
    let tcp_port = server.local_addr().expect("an address").port();
    let plug_in = || {
        let (far, near) = TTYPort::pair().expect("a line");
        let _ = fs::remove_file(&link);
        std::os::unix::fs::symlink(near.name().expect("a name"), &link).expect("linked");
        far
    };
    let feeds = [
        format!("gps=serial:{}@4800", link.display()),
        format!("wind=udp:{udp_port}"),
        format!("depth=tcp:127.0.0.1:{tcp_port}"),
    ];
    let watch = boat.watch_headless(&feeds.each_ref().map(String::as_str));
    watch.wait_for("taken up again");
    // Plugged in only now: a program started later would hold its far end too.
    let mut receiver = plug_in();
    let (night, journal) = (ride.join("night.nmea"), ride.join("journal.jsonl"));
    let kept = |feed: &str, line: &str| {
        text_of(&night).lines().any(|l| l.contains(&format!("s:{feed},")) && l.contains(line.trim_end()))
    };
    for life in 1..=2 {
        let (mut sounder, _) = server.accept().expect("it connects");
        let masthead = UdpSocket::bind("127.0.0.1:0").expect("a socket");
        let heading = sentence(&format!("HEHDT,{life}.5,T"));
        let wind = sentence(&format!("WIMWV,{life}.0,R,12.0,N,A"));
        let depth = sentence(&format!("SDDBT,,f,{life}.5,M,,F"));
        sounder.write_all(depth.as_bytes()).expect("sent");
        until("all three are kept", || {
            // A port that is not open yet loses what is sent.
            let _ = receiver.write_all(heading.as_bytes());
            let _ = masthead.send_to(wind.as_bytes(), ("127.0.0.1", udp_port));
            kept("gps", &heading) && kept("wind", &wind) && kept("depth", &depth)
        });
        if life == 1 {
            fs::remove_file(&link).expect("unplugged");
            drop((receiver, sounder));
            until("both losses are reported", || {
                let entered = text_of(&journal);
                ["\"gps\"", "\"depth\""].iter().all(|feed| {
                    entered.lines().any(|line| line.contains(feed) && line.contains("\"link\":\"lost\""))
                })
            });
            receiver = plug_in();
        }
    }
}

#[test]
fn a_hook_hears_of_an_alert_and_one_that_fails_is_told_about() {
    let boat = Boat::new();
    let heard = boat.path("heard");
    let script = "cat > \"$0.new\" && mv \"$0.new\" \"$0\"; echo so it ends >&2; exit 3";
    boat.configure(&format!(
        "[alerts]\nhook = [\"/bin/sh\", \"-c\", {script:?}, \"{}\"]\n[[feed]]\nname = \"gps\"\nsource = \"udp:{}\"\n",
        heard.display(),
        free_udp_port()
    ));
    boat.unfinished_ride();
    let watch = boat.watch_headless(&[]);
    watch.wait_for("gap raised");
    watch.wait_for("The alert hook /bin/sh failed: it ended with exit status: 3: so it ends.");
    let line = std::fs::read_to_string(&heard).expect("the hook ran");
    let record: serde_json::Value = serde_json::from_str(&line).expect("JSON");
    assert_eq!(record["alert"]["alert"]["kind"], "gap");
    assert_eq!(record["alert"]["change"], "raised");
}

#[test]
fn a_hook_that_runs_when_the_watch_is_killed_does_not_run_on() {
    let boat = Boat::new();
    let runs = boat.path("runs");
    // It holds nothing of the watch's, and never ends by itself.
    let script = "exec <&- 2>&-; echo $$ >\"$0.new\"; mv \"$0.new\" \"$0\"; tail -f /dev/null";
    boat.configure(&format!("[alerts]\nhook = [\"/bin/sh\", \"-c\", {script:?}, \"{}\"]\n", runs.display()));
    boat.unfinished_ride();
    let watch = boat.watch_headless(&[&format!("gps=udp:{}", free_udp_port())]);
    until("the hook runs", || runs.exists());
    let process: u32 = text_of(&runs).trim().parse().expect("a number");
    assert!(is_running(process));
    watch.kill();
    until("the hook has ended", || !is_running(process));
}

#[test]
fn alert_sentences_go_out_over_udp_with_list_and_heartbeat() {
    let boat = Boat::new();
    let panel = UdpSocket::bind("127.0.0.1:0").expect("a socket");
    panel.set_read_timeout(Some(PATIENCE)).expect("set");
    let port = panel.local_addr().expect("an address").port();
    boat.configure(&format!("[alerts]\nout = \"udp:{port}\"\n"));
    boat.unfinished_ride();
    let _watch = boat.watch_headless(&[&format!("gps=udp:{}", free_udp_port())]);
    let mut heard = String::new();
    while !["$IIALF,2,1,", ",W,V,,10019,1,", "$IIALR,", "$IIALC,01,01,", ",10019,1,", "$IIHBT,30.0,A,"]
        .iter()
        .all(|part| heard.contains(part))
    {
        let mut datagram = [0; 256];
        let count = panel.recv(&mut datagram).expect("sentences come");
        heard.push_str(std::str::from_utf8(&datagram[..count]).expect("ASCII"));
    }
}

#[test]
fn a_panel_that_hangs_up_is_called_again_and_hears_how_things_stand() {
    let boat = Boat::new();
    let panel = TcpListener::bind("127.0.0.1:0").expect("a port");
    let port = panel.local_addr().expect("an address").port();
    boat.configure(&format!("[alerts]\nout = [\"tcp:127.0.0.1:{port}\"]\n"));
    boat.unfinished_ride();
    let watch = boat.watch_headless(&[&format!("gps=udp:{}", free_udp_port())]);
    for _ in 0..2 {
        let (call, _) = panel.accept().expect("it calls");
        call.set_read_timeout(Some(PATIENCE)).expect("set");
        let entered =
            BufReader::new(call).lines().map_while(Result::ok).find(|line| line.contains(",10019,1,"));
        assert!(entered.is_some_and(|line| line.starts_with("$IIALF,")));
    }
    watch.wait_for("closed the connection. It is tried again by itself.");
}

#[test]
fn a_wrong_sink_keeps_the_watch_from_starting_and_says_what_to_write() {
    let boat = Boat::new();
    boat.configure("[alerts]\nout = \"panel\"\n");
    let said = boat.watch_refuses(&["udp:10110"]);
    assert!(said.contains("`panel` is nowhere to send alerts to. Write udp:10111"), "{said}");
}

#[test]
fn a_second_watch_on_the_same_ride_says_who_keeps_it() {
    let boat = Boat::new();
    boat.unfinished_ride();
    let feed = format!("gps=udp:{}", free_udp_port());
    let watch = boat.watch_headless(&[&feed]);
    watch.wait_for("taken up again");
    let said = boat.watch_refuses(&[&feed]);
    assert!(said.contains(&format!("(process {})", watch.id())), "{said}");
    assert!(said.contains("--anew"), "{said}");
}

#[cfg(target_os = "linux")]
#[test]
fn a_reader_that_does_not_read_holds_nothing_up() {
    let boat = Boat::new();
    let ride = boat.unfinished_ride();
    let (_reader, mut pipe) = std::io::pipe().expect("a pipe");
    // As much as a pipe holds: not a byte more goes in.
    pipe.write_all(&[b'x'; 65_536]).expect("filled");
    let sender = UdpSocket::bind("127.0.0.1:0").expect("a socket");
    let port = free_udp_port();
    let mut watch = boat.watch_writing_to(pipe.into(), &[&format!("gps=udp:{port}")]);
    until("a line is kept", || {
        let _ = sender.send_to(b"$HEHDT,123.4,T*2B\r\n", ("127.0.0.1", port));
        text_of(&ride.join("night.nmea")).contains("$HEHDT,123.4,T*2B")
    });
    watch.terminate();
}

#[test]
fn what_is_wrong_with_a_feed_is_said_without_a_screen_too() {
    let boat = Boat::new();
    let busy = UdpSocket::bind("127.0.0.1:0").expect("a socket");
    let port = busy.local_addr().expect("an address").port();
    let nobody = TcpListener::bind("127.0.0.1:0").and_then(|l| l.local_addr()).expect("an address").port();
    let feeds = [
        format!("mast=udp:{port}"),
        format!("box=tcp:127.0.0.1:{nobody}"),
        "gps=serial:/dev/no-such-port@4800".into(),
    ];
    let watch = boat.watch_headless(&feeds.each_ref().map(String::as_str));
    watch.wait_for("feed mast: another program, perhaps a running watch, already listens at port");
    watch.wait_for(
        "refused the connection: its program is not running, or the port is wrong. It is tried again",
    );
    watch.wait_for("feed gps: /dev/no-such-port is not there: is it plugged in?");
}

#[test]
fn a_start_that_cannot_be_says_what_it_means_and_what_to_do() {
    let boat = Boat::new();
    std::fs::write(boat.rides(), "a file, no folder").expect("written");
    let said = boat.watch_refuses(&["udp:10110"]);
    assert!(said.contains("There is no ") && said.contains("a middling sloop is taken"), "{said}");
    assert!(said.contains("Rides cannot be kept in ") && said.contains("with --rides"), "{said}");
    let said = boat.watch_refuses(&["usb:1"]);
    assert!(said.contains("`usb:1` is not a source. Write serial:"), "{said}");
    let said = boat.watch_refuses(&[]);
    assert!(said.contains("No feed is named") && said.contains("`nightrode feeds`"), "{said}");
    boat.configure("[[feed]]\nname = \"gps\"\nsource = \"serial:/dev/x@48oo\"\n");
    let said = boat.watch_refuses(&[]);
    assert!(said.contains("The feed gps of boat.toml cannot be used: `48oo` is not a baud rate."), "{said}");
}
