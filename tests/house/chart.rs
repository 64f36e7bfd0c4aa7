//! Charts as they are drawn.

use silkward::house::chart::{Axis, Chart, Figures, Mark, Shape, Style, Under, day_value, download};

fn chart(marks: Vec<Mark>) -> Chart {
    Chart {
        id: "test",
        title: "Test".to_owned(),
        description: "A test.".to_owned(),
        x: Axis::numbers("days", 0.0, 90.0),
        y: Axis::shares("share"),
        marks,
        under: Some(Under { label: "at risk".to_owned(), values: vec![(0.0, "12".to_owned()), (100.0, "3".to_owned())] }),
        figures: Figures::new(&["day"]),
        csv: "/x.csv".to_owned(),
    }
}

#[test]
fn axes_begin_and_end_at_round_values_around_the_data() {
    let labels = |axis: &Axis| axis.ticks.iter().map(|tick| tick.label.clone()).collect::<Vec<_>>().join(" ");
    assert_eq!(labels(&Axis::numbers("", 0.0, 90.0)), "0 20 40 60 80 100");
    assert_eq!(labels(&Axis::numbers("", 21.3, 27.9)), "20 22 24 26 28");
    assert_eq!(labels(&Axis::numbers("", 0.0, 0.0)), "0.0 0.2 0.4 0.6 0.8 1.0");
    assert_eq!(labels(&Axis::shares("")), "0 % 25 % 50 % 75 % 100 %");
    let days = Axis::days("", "2026-01-15".parse().unwrap(), "2026-12-24".parse().unwrap());
    assert_eq!(labels(&days), "Feb 26 Apr 26 Jun 26 Aug 26 Oct 26 Dec 26");
    assert_eq!(labels(&Axis::days("", "2026-03-01".parse().unwrap(), "2026-03-01".parse().unwrap())), "1 Mar 2 Mar");
    assert_eq!(days.from, day_value("2026-01-15".parse().unwrap()));
}

#[test]
fn steps_stay_at_each_value_until_the_next() {
    let drawn = chart(vec![Mark::new(Style::Main, Shape::Steps(vec![(0.0, 1.0), (50.0, 0.5), (100.0, 0.5)]), "")]).drawn();
    assert_eq!(drawn[0].path, "M40 8L186 8L186 92L332 92L332 92");
    assert_eq!(drawn[0].class, "line main");
}

#[test]
fn every_shape_stays_within_the_drawing_whatever_it_is_given() {
    let wild = [f64::MIN, -5.0, 0.0, 1e300, f64::INFINITY];
    let points: Vec<(f64, f64)> = wild.iter().map(|value| (*value, *value)).collect();
    let bands: Vec<(f64, f64, f64)> = wild.iter().map(|value| (*value, 0.2, *value)).collect();
    for shape in [
        Shape::Line(points.clone()),
        Shape::Steps(points.clone()),
        Shape::Dots(points),
        Shape::Band(bands.clone()),
        Shape::StepBand(bands),
        Shape::Span(-1e9, 1e9),
        Shape::Rule(f64::MAX),
        Shape::Line(Vec::new()),
    ] {
        let path = chart(vec![Mark::new(Style::Quiet, shape, "x")]).drawn().remove(0).path;
        let numbers =
            path.split(|letter: char| !(letter.is_ascii_digit() || letter == '.' || letter == '-')).filter(|part| !part.is_empty());
        assert!(numbers.map(|number| number.parse::<f64>().unwrap()).all(|number| number.abs() < 1000.0), "{path}");
    }
}

#[test]
fn words_at_the_right_edge_end_there() {
    let below = chart(Vec::new()).below();
    assert_eq!([below[0].anchor, below[1].anchor], ["middle", "end"]);
}

#[tokio::test]
async fn a_file_of_figures_is_csv_and_no_formula() {
    let mut figures = Figures::new(&["day", "what, exactly"]);
    figures.rows = vec![vec!["3".to_owned(), "–".to_owned()], vec!["-4.5".to_owned(), "=cmd()".to_owned()]];
    let answer = download(&figures, "loss\"es\r\nof A/B").unwrap();
    assert_eq!(answer.headers()["content-disposition"], "attachment; filename=\"loss-es--of-A-B.csv\"");
    let body = axum::body::to_bytes(answer.into_body(), 10_000).await.unwrap();
    assert_eq!(body, "day,\"what, exactly\"\r\n3,\r\n-4.5,'=cmd()\r\n");
}
