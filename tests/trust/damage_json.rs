//! Damage to a JSON file that leaves most of it JSON: keys dropped, doubled, renamed, values of another type.

use serde_json::{Map, Value, json};

use crate::cases::{Op, pick, place};
use crate::damage::{NASTY, damage_bytes};

/// A damaged copy of a sound JSON file. Steps of a low number change values, then come keys, then bytes.
pub fn damage_json(sound: &[u8], ops: &[Op]) -> Vec<u8> {
    let mut value: Value = serde_json::from_slice(sound).unwrap();
    for op in ops.iter().filter(|op| op.0 < 160) {
        damage_value(&mut value, *op);
    }
    let is_compact = ops.iter().any(|op| op.0 % 16 == 7);
    let text = if is_compact { value.to_string() } else { format!("{value:#}") };
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    for op in ops.iter().filter(|op| (160..208).contains(&op.0)) {
        damage_lines(&mut lines, *op);
    }
    let mut bytes = lines.join("\n").into_bytes();
    for op in ops.iter().filter(|op| op.0 >= 208) {
        damage_bytes(&mut bytes, *op);
    }
    bytes
}

/// Values that a key may suddenly have.
fn odd_value(with: u32) -> Value {
    let texts = NASTY.iter().map(|text| json!(text));
    let mut odd: Vec<Value> = vec![
        Value::Null,
        json!(true),
        json!(0),
        json!(-1),
        json!(1.5),
        json!(-0.0),
        json!(1e308),
        json!(-1e308),
        json!(5e-324),
        json!(u64::MAX),
        json!(i64::MIN),
        json!(4_294_967_296_u64),
        json!([]),
        json!({}),
        json!([1, 2]),
        json!([[0, 0], [0, 0]]),
        json!([[1e308, -1e308], [-1e308, 1e308]]),
        json!({"left": 5, "top": 5, "right": 1, "bottom": 1}),
        json!("x".repeat(70_000)),
        nested(100),
        nested(300),
    ];
    odd.extend(texts);
    pick(&odd, with).unwrap().clone()
}

fn nested(depth: usize) -> Value {
    (0..depth).fold(json!(1), |inner, _| json!([inner]))
}

fn damage_value(value: &mut Value, (what, at, with): Op) {
    let mut n_nodes = 0;
    count(value, &mut n_nodes);
    let mut left = place(n_nodes, at).unwrap_or_default();
    let Some(node) = node_at(value, &mut left) else { return };
    match (what % 10, node) {
        (0..=2, node) => *node = odd_value(with),
        (3, Value::Object(map)) => drop_key(map, with),
        (4, Value::Object(map)) => {
            if let Some(key) = pick(&map.keys().cloned().collect::<Vec<_>>(), with) {
                let value = map.remove(key).unwrap_or_default();
                map.insert(format!("{key}{}", NASTY[with as usize % NASTY.len()]), value);
            }
        }
        (5 | 6, Value::Object(map)) => {
            map.insert(format!("kept {}", with % 7), odd_value(with / 7));
        }
        (3, Value::Array(list)) => {
            if let Some(place) = place(list.len(), with) {
                list.remove(place);
            }
        }
        (4..=6, Value::Array(list)) => {
            if let Some(one) = pick(list, with).cloned() {
                list.push(one);
            }
        }
        (7, Value::Array(list)) => list.reverse(),
        (_, Value::Number(number)) => {
            let was = number.as_f64().unwrap_or_default();
            let factor = *pick(&[-1.0, 0.0, 1e-12, 1e12, 1.000_000_000_000_1], with).unwrap();
            if let Some(odd) = serde_json::Number::from_f64(was * factor) {
                *number = odd;
            }
        }
        (_, Value::String(text)) => text.push_str(pick(&NASTY, with).unwrap()),
        (_, node) => *node = odd_value(with),
    }
}

fn drop_key(map: &mut Map<String, Value>, with: u32) {
    if let Some(key) = pick(&map.keys().cloned().collect::<Vec<_>>(), with) {
        map.remove(key);
    }
}

fn count(value: &Value, n: &mut usize) {
    *n += 1;
    match value {
        Value::Object(map) => map.values().for_each(|value| count(value, n)),
        Value::Array(list) => list.iter().for_each(|value| count(value, n)),
        _ => {}
    }
}

fn node_at<'a>(value: &'a mut Value, left: &mut usize) -> Option<&'a mut Value> {
    if *left == 0 {
        return Some(value);
    }
    *left -= 1;
    match value {
        Value::Object(map) => map.values_mut().find_map(|value| node_at(value, left)),
        Value::Array(list) => list.iter_mut().find_map(|value| node_at(value, left)),
        _ => None,
    }
}

/// What no JSON writer makes: a key that stands twice, numbers out of range, a comma too many.
fn damage_lines(lines: &mut Vec<String>, (what, at, with): Op) {
    let Some(place) = place(lines.len(), at) else { return };
    match what % 4 {
        0 => {
            let twin = lines[place].clone();
            lines.insert(place, twin);
        }
        1 => drop(lines.remove(place)),
        2 => {
            if let Some((key, _)) = lines[place].clone().split_once(": ") {
                let odd =
                    ["1e999", "-1e999", "NaN", "+1", "01", ".5", "1e", "tru", "\"\\ud800\"", "1_0"];
                lines[place] = format!("{key}: {},", pick(&odd, with).unwrap());
            }
        }
        _ => lines[place].push_str(pick(&[",", "// note", "}", "[", "\u{0}", "\\"], with).unwrap()),
    }
}
