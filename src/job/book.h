// What a session knows, laid out for a person to look at: one row per scan and per frame, what state each is
// in and why. A book is never changed once it is made; a new one takes its place.
#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <unordered_map>
#include <vector>

#include "job/job.h"
#include "record/correction.h"
#include "record/handle.h"
#include "record/pair.h"
#include "record/photo.h"
#include "session/session.h"

namespace samelight::job {

enum class FrameState {
  kSettled,   // nothing speaks against it, or a person said so
  kToCheck,   // there are reasons to look
  kUnpaired,  // no scan of its own, and no film saw its light; or not solved yet
};

struct ScanRow {
  record::Photo photo;
  std::string name;               // short, unique among scans
  int roll = -1, light = -1;      // indices into Book::rolls and Book::lights, -1: none
  record::Pair pair;              // kind kNone: a loose end
  bool barred = false;            // kept out of the look, by a person or by coloured lamps
  double nudge_de = 0;            // the lab's own correction of this scan, CIEDE2000 over usual colours
  std::vector<std::string> seen;  // of Book::seen, on this one
};

struct FrameRow {
  record::Photo photo;
  std::string name;          // short, unique among frames
  std::int64_t time_us = 0;  // on the session's common clock; INT64_MAX: unknown
  int light = -1;            // index into Book::lights, -1: none
  PhotoId scan;              // paired with it (the surest, if several); invalid: none
  record::PairKind kind = record::PairKind::kNone;
  bool filmed = false;     // a scan belongs to its light
  bool solved = false;     // `solution` holds something
  bool by_person = false;  // settled (or put back to be checked) by a person
  bool delivered = false;
  FrameState state = FrameState::kUnpaired;
  std::vector<record::Flag> reasons;  // worst first; kept when a person settled the frame
  std::vector<std::string> seen;      // of Book::seen, on this one
  double worst = 0;                   // largest left-over, CIEDE2000; 0 without a scan
  record::FrameSolution solution;     // with the touch and follow that stand now
  record::Correction solved_under;    // as it was when left-over and reasons were measured
};

struct Book {
  std::string session;  // its name
  std::filesystem::path file;
  std::vector<ScanRow> scans;         // by roll and place in it
  std::vector<FrameRow> frames;       // by time on the common clock
  std::vector<record::Roll> rolls;    // as a person named them
  std::vector<record::Light> lights;  // in time order
  std::vector<session::Clock> clocks;
  std::vector<Problem> problems;
  std::vector<std::string> notes;  // of the solver
  std::vector<record::Note> seen;  // on single photographs; nothing is done about them
  // Of the session as it was last solved.
  report::Totals totals;
  std::vector<report::Report::SkinSpread> skin_spread;
  session::Standing standing;  // what a person said
  std::vector<session::HistoryEntry> history;
  std::shared_ptr<const std::unordered_map<PhotoId, record::Measured>> measured;  // never nullptr
  double tolerance = 2.5;                                                         // CIEDE2000
  int settled = 0, to_check = 0, unpaired = 0, loose_scans = 0;
  bool paired = false, matched = false;  // those stages were made at least once
  bool stale = false;                    // something was said that pairing or solving has not heard yet

  // nullptr when there is none.
  const ScanRow* Scan(PhotoId id) const;
  const FrameRow* Frame(PhotoId id) const;
  // Index into scans / frames; -1.
  int ScanIndex(PhotoId id) const;
  int FrameIndex(PhotoId id) const;
  // log2 of a photograph's median luminance, as measured; that of mid-grey when it was not.
  double Level(PhotoId photo) const;
  // Counts states and makes the look-ups; to be called after rows were changed.
  void Index();

 private:
  std::unordered_map<PhotoId, int> scan_index_, frame_index_;
};

// Reads everything but pixels and correspondences, as the session was last paired and solved.
Result<std::shared_ptr<const Book>> ReadBook(const session::Session& session);

// The book with what a person has said since: pairs, lights, names, follow, touch, settled. Saying what the
// book already holds changes nothing, so that it can be applied again and again. Left-overs stay as they were
// solved.
void Apply(const session::Standing& standing, Book& book);

// State of a row from what it holds; `reasons` must be those of its solution.
FrameState StateOf(const session::Standing& standing, const FrameRow& row);

}  // namespace samelight::job
