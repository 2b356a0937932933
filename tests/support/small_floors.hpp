// Small floors with one difficulty each, for the property and traffic tests. All of the fictional
// pottery works, all with the builder's cart (600 x 400 mm).
#pragma once

#include <string>
#include <vector>

#include "tests/support/floor_builder.hpp"

namespace tagline::test {

/// Two sidings side by side beyond x (towards smaller x if `step` < 0), cutting off an upright from
/// point `in` to point `out`. No more than two: with the upright itself that makes a fork of three,
/// and a cart knows only left, straight and right.
inline void bay(FloorBuilder& b, const std::string& prefix, const std::string& in,
                const std::string& out, double x, double step, double y_in, double y_out) {
  for (int i = 1; i <= 2; ++i) {
    const std::string id = prefix + std::to_string(i);
    const double at = x + step * i;
    b.point(id, at, (y_in + y_out) / 2).siding();
    b.segment("IN" + id, in, id).via({{at, y_in * 0.8 + y_out * 0.2}});
    b.segment("OUT" + id, id, out).via({{at, y_in * 0.2 + y_out * 0.8}});
  }
}

/// A one-way loop, to the right at the bottom and to the left at the top, with two sidings on each
/// side.
inline floor::Floor loop_with_bay() {
  FloorBuilder b;
  b.name("Loop with a siding bay");
  b.point("A", 0, 0).point("B", 2000, 0).point("C", 4000, 0).point("D", 6000, 0);
  b.point("E", 6000, 6000).point("F", 4000, 6000).point("G", 2000, 6000).point("H", 0, 6000);
  b.segment("AB", "A", "B").segment("BC", "B", "C").segment("CD", "C", "D");
  b.segment("DE", "D", "E").segment("EF", "E", "F").segment("FG", "F", "G");
  b.segment("GH", "G", "H").segment("HA", "H", "A");
  bay(b, "H", "D", "E", 6000, 1000, 0, 6000);
  bay(b, "K", "H", "A", 0, -1000, 6000, 0);
  b.station("CAST", "B").station("DRY", "F").station("PACK", "H");
  return b.build();
}

/// The loop with a shortcut from C up to F, so that there is a merge on the way.
inline floor::Floor loop_with_shortcut() {
  FloorBuilder b;
  b.name("Loop with a shortcut");
  b.point("A", 0, 0).point("B", 2000, 0).point("C", 4000, 0).point("D", 8000, 0);
  b.point("E", 8000, 6000).point("F", 4000, 6000).point("G", 2000, 6000).point("H", 0, 6000);
  b.point("X", 4000, 3000);
  b.segment("AB", "A", "B").segment("BC", "B", "C").segment("CD", "C", "D");
  b.segment("DE", "D", "E").segment("EF", "E", "F").segment("FG", "F", "G");
  b.segment("GH", "G", "H").segment("HA", "H", "A");
  b.segment("CX", "C", "X").segment("XF", "X", "F");
  bay(b, "H", "D", "E", 8000, 1000, 0, 6000);
  bay(b, "K", "H", "A", 0, -1000, 6000, 0);
  b.station("CAST", "B").station("DRY", "X").station("GLAZE", "E").station("PACK", "H");
  return b.build();
}

/// One plain loop without any siding: idle carts must move on.
inline floor::Floor plain_loop() {
  FloorBuilder b;
  b.name("Plain loop");
  b.point("A", 0, 0).point("B", 2000, 0).point("C", 4000, 0).point("D", 6000, 0);
  b.point("E", 8000, 0).point("F", 8000, 4000).point("G", 6000, 4000).point("H", 4000, 4000);
  b.point("I", 2000, 4000).point("J", 0, 4000);
  b.segment("AB", "A", "B").segment("BC", "B", "C").segment("CD", "C", "D");
  b.segment("DE", "D", "E").segment("EF", "E", "F").segment("FG", "F", "G");
  b.segment("GH", "G", "H").segment("HI", "H", "I").segment("IJ", "I", "J");
  b.segment("JA", "J", "A");
  b.station("CAST", "B").station("DRY", "D").station("GLAZE", "G").station("PACK", "I");
  return b.build();
}

/// As few places as a loop can have: five, so that it is full with four carts.
inline floor::Floor tight_loop() {
  FloorBuilder b;
  b.name("Tight loop");
  b.point("A", 0, 0).point("B", 2500, 0).point("C", 5000, 0).point("D", 5000, 3000);
  b.point("E", 0, 3000);
  b.segment("AB", "A", "B").segment("BC", "B", "C").segment("CD", "C", "D");
  b.segment("DE", "D", "E").segment("EA", "E", "A");
  b.station("CAST", "B").station("DRY", "D").station("PACK", "E");
  return b.build();
}

/// Two loops that cross each other in the middle, with a siding bay on each side.
inline floor::Floor figure_of_eight() {
  FloorBuilder b;
  b.name("Figure of eight with a crossing");
  // From the lower left over the crossing to the upper right, down, and back over the crossing.
  b.point("A", 0, 0).point("B", 3000, 3000).point("C", 5000, 5000).point("D", 8000, 8000);
  b.point("E", 11000, 6000).point("F", 11000, 2000).point("G", 8000, 0).point("H", 5000, 3000);
  b.point("I", 3000, 5000).point("J", 0, 8000).point("K", -3000, 6000).point("L", -3000, 2000);
  b.segment("AB", "A", "B").segment("BC", "B", "C").segment("CD", "C", "D");
  b.segment("DE", "D", "E").segment("EF", "E", "F").segment("FG", "F", "G");
  b.segment("GH", "G", "H").segment("HI", "H", "I").segment("IJ", "I", "J");
  b.segment("JK", "J", "K").segment("KL", "K", "L").segment("LA", "L", "A");
  b.point("S1", 12200, 4000).siding().segment("ES1", "E", "S1").segment("S1F", "S1", "F");
  b.point("S2", -4200, 4000).siding().segment("KS2", "K", "S2").segment("S2L", "S2", "L");
  b.point("S3", 13400, 4000).siding().segment("ES3", "E", "S3").segment("S3F", "S3", "F");
  b.station("CAST", "A").station("DRY", "D").station("GLAZE", "G").station("PACK", "J");
  return b.build();
}

/// A loop, and from it a two-way corridor to a room in which a cart turns on the spot.
inline floor::Floor corridor() {
  FloorBuilder b;
  b.name("Two-way corridor");
  b.point("A", 0, 0).point("B", 3000, 0).point("C", 6000, 0).point("D", 9000, 0);
  b.point("E", 9000, 4000).point("F", 4500, 4000).point("G", 0, 4000);
  b.segment("AB", "A", "B").segment("BC", "B", "C").segment("CD", "C", "D");
  b.segment("DE", "D", "E").segment("EF", "E", "F").segment("FG", "F", "G").segment("GA", "G", "A");
  // The corridor leaves at B and comes back to C; both ends meet in Q.
  b.point("Q", 4500, -2500).point("R", 4500, -5000).point("T", 4500, -7500).turn_round();
  b.segment("BQ", "B", "Q").segment("QR", "Q", "R").two_way().segment("RT", "R", "T").two_way();
  b.segment("QC", "Q", "C");
  for (int i = 1; i <= 2; ++i) {
    const std::string n = std::to_string(i);
    b.point("H" + n, 4500, 5000.0 + 1000.0 * i).siding();
    b.segment("IN" + n, "E", "H" + n).via({{7500, 5000.0 + 1000.0 * i}});
    b.segment("OUT" + n, "H" + n, "G").via({{1500, 5000.0 + 1000.0 * i}});
  }
  b.point("H3", 2250, 5000).siding().segment("IN3", "F", "H3").segment("OUT3", "H3", "G");
  b.station("CAST", "D").station("KILN", "T").station("PACK", "F");
  return b.build();
}

/// A loop with a dead-end spur of two segments into a kiln room.
inline floor::Floor spur() {
  FloorBuilder b;
  b.name("Dead-end spur");
  b.point("A", 0, 0).point("B", 3000, 0).point("C", 6000, 0).point("D", 6000, 4000);
  b.point("E", 3000, 4000).point("F", 0, 4000);
  b.segment("AB", "A", "B").segment("BC", "B", "C").segment("CD", "C", "D");
  b.segment("DE", "D", "E").segment("EF", "E", "F").segment("FA", "F", "A");
  b.point("K1", 5000, -2000).point("K2", 7000, -4000);
  b.segment("BK1", "B", "K1").spur().segment("K1K2", "K1", "K2").spur();
  bay(b, "H", "C", "D", 6000, 1000, 0, 4000);
  bay(b, "L", "F", "A", 0, -1000, 4000, 0);
  b.station("CAST", "A").station("KILN", "K2").station("DRY", "K1").station("PACK", "E");
  return b.build();
}

/// Two rails with rungs: many forks and merges.
inline floor::Floor ladder() {
  FloorBuilder b;
  b.name("Ladder");
  for (int i = 0; i < 5; ++i) {
    const std::string n = std::to_string(i);
    b.point("U" + n, 3000.0 * i, 6000).point("L" + n, 3000.0 * i, 0);
  }
  for (int i = 0; i < 4; ++i) {
    const std::string n = std::to_string(i);
    const std::string m = std::to_string(i + 1);
    b.segment("L" + n + m, "L" + n, "L" + m).segment("U" + m + n, "U" + m, "U" + n);
  }
  b.segment("END", "L4", "U4").segment("HOME", "U0", "L0");
  b.segment("R1", "L1", "U1").segment("R2", "L2", "U2").segment("R3", "L3", "U3");
  bay(b, "H", "L4", "U4", 12000, 1000, 0, 6000);
  bay(b, "K", "U0", "L0", 0, -1000, 6000, 0);
  b.station("CAST", "L1").station("DRY", "U3").station("GLAZE", "L3").station("PACK", "U1");
  return b.build();
}

/// Two one-way loops that share one stretch.
inline floor::Floor shared_stretch() {
  FloorBuilder b;
  b.name("Two loops sharing a stretch");
  b.point("P", 0, 0).point("Q", 3000, 0).point("R", 6000, 0);
  b.point("A", 9000, 3000).point("B", 3000, 6000).point("C", -3000, 3000);
  b.point("D", 9000, -3000).point("E", 3000, -6000).point("F", -3000, -3000);
  b.segment("PQ", "P", "Q").segment("QR", "Q", "R");
  b.segment("RA", "R", "A").segment("AB", "A", "B").segment("BC", "B", "C").segment("CP", "C", "P");
  b.segment("RD", "R", "D").segment("DE", "D", "E").segment("EF", "E", "F").segment("FP", "F", "P");
  for (int i = 1; i <= 2; ++i) {
    const std::string n = std::to_string(i);
    b.point("H" + n, 3000, 7000.0 + 1000.0 * i).siding();
    b.segment("IN" + n, "A", "H" + n).via({{7500, 7000.0 + 1000.0 * i}});
    b.segment("OUT" + n, "H" + n, "C").via({{-1500, 7000.0 + 1000.0 * i}});
    b.point("K" + n, 3000, -7000.0 - 1000.0 * i).siding();
    b.segment("KIN" + n, "D", "K" + n).via({{7500, -7000.0 - 1000.0 * i}});
    b.segment("KOUT" + n, "K" + n, "F").via({{-1500, -7000.0 - 1000.0 * i}});
  }
  b.station("CAST", "Q").station("DRY", "B").station("GLAZE", "E");
  return b.build();
}

/// The figure of eight's points and segments in the same order, but drawn as a ring: nothing
/// crosses. A stand-in for tables from which that conflict was left out.
inline floor::Floor figure_of_eight_without_crossing() {
  FloorBuilder b;
  b.name("Figure of eight, crossing left out");
  b.point("A", 0, 0).point("B", 4000, 0).point("C", 8000, 0).point("D", 12000, 0);
  b.point("E", 16000, 2000)
      .point("F", 16000, 8000)
      .point("G", 12000, 10000)
      .point("H", 8000, 10000);
  b.point("I", 4000, 10000).point("J", 0, 10000).point("K", -4000, 8000).point("L", -4000, 2000);
  b.segment("AB", "A", "B").segment("BC", "B", "C").segment("CD", "C", "D");
  b.segment("DE", "D", "E").segment("EF", "E", "F").segment("FG", "F", "G");
  b.segment("GH", "G", "H").segment("HI", "H", "I").segment("IJ", "I", "J");
  b.segment("JK", "J", "K").segment("KL", "K", "L").segment("LA", "L", "A");
  // The bays lie on the other hand of E-F than in the figure of eight's right loop.
  b.point("S1", 14800, 5000).siding().segment("ES1", "E", "S1").segment("S1F", "S1", "F");
  b.point("S2", -2800, 5000).siding().segment("KS2", "K", "S2").segment("S2L", "S2", "L");
  b.point("S3", 13600, 5000).siding().segment("ES3", "E", "S3").segment("S3F", "S3", "F");
  b.station("CAST", "A").station("DRY", "D").station("GLAZE", "G").station("PACK", "J");
  return b.build();
}

/// Two balloon loops, each with sidings, joined by a two-way corridor with a place to pass in the
/// middle.
inline floor::Floor passing_place() {
  FloorBuilder b;
  b.name("Corridor with a passing place");
  b.point("JW", 0, 0).point("QW", 3000, 0).point("PE", 6000, 0).point("QE", 9000, 0);
  b.point("JE", 12000, 0).point("PW", 6000, 1500);
  b.segment("WW", "JW", "QW").two_way().segment("EE", "QE", "JE").two_way();
  b.segment("QWPE", "QW", "PE").segment("PEQE", "PE", "QE");
  b.segment("QEPW", "QE", "PW").via({{7500, 1500}});
  b.segment("PWQW", "PW", "QW").via({{4500, 1500}});
  b.point("E1", 15000, -3000).point("E3", 15000, 3000);
  b.segment("JEE1", "JE", "E1").via({{13500, -3000}});
  b.segment("E1E3", "E1", "E3").segment("E3JE", "E3", "JE").via({{13500, 3000}});
  b.point("W1", -3000, 3000).point("W3", -3000, -3000);
  b.segment("JWW1", "JW", "W1").via({{-1500, 3000}});
  b.segment("W1W3", "W1", "W3").segment("W3JW", "W3", "JW").via({{-1500, -3000}});
  bay(b, "H", "E1", "E3", 15000, 1000, -3000, 3000);
  bay(b, "K", "W1", "W3", -3000, -1000, 3000, -3000);
  b.station("CAST", "W1").station("DRY", "E3").station("PACK", "W3");
  return b.build();
}

inline std::vector<floor::Floor> small_floors() {
  return {loop_with_bay(), loop_with_shortcut(), figure_of_eight(), corridor(), spur(),
          ladder(),        shared_stretch()};
}

}  // namespace tagline::test
