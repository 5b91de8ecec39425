// Which scan belongs to which frame, and which places in them show the same surface.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "base/ids.h"
#include "record/region.h"

namespace samelight::record {

enum class PairKind { kMoment, kLight, kNone };  // same moment; same light only; no counterpart
const char* Name(PairKind kind);                 // "moment", "light", "none"

struct PairCandidate {
  PhotoId frame;
  PairKind kind = PairKind::kNone;
  double confidence = 0;               // probability that `kind` is right for this frame, 0..1
};

// The answer for one scan. kind kNone: no frame.
struct Pair {
  PhotoId scan, frame;
  PairKind kind = PairKind::kNone;
  double confidence = 0;
  bool by_person = false;              // joined or refused by hand: outranks and survives re-runs
  std::vector<PairCandidate> alternatives;  // up to three, best first
};

// A scan that seems to belong somewhere, but nowhere surely enough: its alternatives are for a person to choose from.
bool IsUndecided(const Pair& pair);

// One matched place. Colours are medians over about 10 px of the blurred analysis picture, linear BT.2020, D65, each in
// its own picture's reference. Positions are fractions of the upright pictures.
struct Cell {
  float ax = 0, ay = 0, bx = 0, by = 0;
  float a_rgb[3] = {0, 0, 0};
  float b_rgb[3] = {0, 0, 0};
  float weight = 1;                    // trust: match quality, flatness, noise; > 0
  RegionKind region = RegionKind::kOther;  // region label in picture b (the frame)
  std::int8_t face = -1;               // face number in picture b
};

// Matched places of two pictures: a is a scan or a frame, b is a frame.
struct Correspondence {
  PhotoId a, b;
  int inliers = 0;                     // local features that agree geometrically
  bool mirrored = false;
  float b_from_a[9] = {1, 0, 0, 0, 1, 0, 0, 0, 1};  // homography on fractions, row-major; approximate where people move
  std::vector<Cell> cells;
};

// A run of frames in one lighting situation.
struct Light {
  LightId id;
  std::string name;                    // "light 3", or what the person called it
  std::vector<PhotoId> frames;         // in time order
  std::vector<PhotoId> scans;          // scans assigned to this light (through their pairs), in roll order
  double mired = 0, duv = 0;           // estimate of the situation
  bool narrow_band = false;            // coloured lamps of few wavelengths: its scans are kept out of the look
};

// A film roll: scans in order.
struct Roll {
  RollId id;
  std::string name;                    // folder name, or what the person called it
  std::string stock, lab;              // look key; empty: inferred
  bool black_and_white = false;
  double push_ev = 0;                  // push (positive) or pull of the development
  std::vector<PhotoId> scans;
  std::string format;                  // "35 mm", "6x4.5", ...; empty: not known
  double rating_iso = 0;               // the speed it was exposed at; 0: not known
  std::string scan_day;                // ISO 8601, "2026-05-30"; empty: not known
  bool expired = false;                // old film: its colours are not the stock's, and stay out of the look
};

// Something seen on the way that an editor may want to know; nothing is done about it.
struct Note {
  PhotoId photo;
  std::string text;                    // in plain words
};

}  // namespace samelight::record
