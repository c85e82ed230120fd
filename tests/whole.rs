//! The program itself, without a screen, as a crew would run it: real files, sockets, serial lines and commands.
#![cfg(unix)]

mod support;

use std::io::{BufRead as _, BufReader, Write as _};
use std::net::{TcpListener, UdpSocket};

use support::program::{Boat, PATIENCE};

#[test]
fn a_hook_hears_of_an_alert_and_one_that_fails_is_told_about() {
    let boat = Boat::new();
    let heard = boat.path("heard");
    let script = "cat > \"$0.new\" && mv \"$0.new\" \"$0\"; echo so it ends >&2; exit 3";
    boat.configure(&format!(
        "[alerts]\nhook = [\"/bin/sh\", \"-c\", {script:?}, \"{}\"]\n[[feed]]\nname = \"gps\"\nsource = \"udp:{}\"\n",
        heard.display(),
        support::program::free_udp_port()
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
fn alert_sentences_go_out_over_udp_with_list_and_heartbeat() {
    let boat = Boat::new();
    let panel = UdpSocket::bind("127.0.0.1:0").expect("a socket");
    panel.set_read_timeout(Some(PATIENCE)).expect("set");
    let port = panel.local_addr().expect("an address").port();
    boat.configure(&format!("[alerts]\nout = \"udp:{port}\"\n"));
    boat.unfinished_ride();
    let _watch = boat.watch_headless(&[&format!("gps=udp:{}", support::program::free_udp_port())]);
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
    let watch = boat.watch_headless(&[&format!("gps=udp:{}", support::program::free_udp_port())]);
    for _ in 0..2 {
        let (call, _) = panel.accept().expect("it calls");
        call.set_read_timeout(Some(PATIENCE)).expect("set");
        let told = BufReader::new(call).lines().map_while(Result::ok).find(|line| line.contains(",10019,1,"));
        assert!(told.is_some_and(|line| line.starts_with("$IIALF,")));
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
    let feed = format!("gps=udp:{}", support::program::free_udp_port());
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
    let port = support::program::free_udp_port();
    let mut watch = boat.watch_writing_to(pipe.into(), &[&format!("gps=udp:{port}")]);
    support::program::until("a line is kept", || {
        let _ = sender.send_to(b"$HEHDT,123.4,T*2B\r\n", ("127.0.0.1", port));
        support::program::text_of(&ride.join("night.nmea")).contains("$HEHDT,123.4,T*2B")
    });
    watch.terminate();
}
