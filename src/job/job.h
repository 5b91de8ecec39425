// One entry per thing that a person does with a session. Nothing here prints: the command line and the window
// ask, show and answer. Every entry may run long, tells how far it is, and stops soon after `cancel` with
// kCancelled; what was finished until then is kept, and the same call again goes on from there. One bad file
// is a problem of its own: it is named in the answer and the rest goes on. Entries are not thread safe for
// one session (a second process gets kBusy).
#pragma once

#include <array>
#include <cstdint>
#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "base/cancel.h"
#include "base/progress.h"
#include "base/result.h"
#include "record/learned_look.h"
#include "record/order.h"
#include "report/report.h"

namespace samelight::job {

using report::Problem;
namespace fs = std::filesystem;

// How to go about it.
struct Work {
  Progress& progress;
  Cancel cancel;
};

// --- new: take stock of a session

struct NewRequest {
  fs::path session;                     // made when it does not exist; otherwise what is new is added
  std::vector<fs::path> film, digital;  // folders (with all below them) or single files
};
struct StockAnswer {
  int scans = 0, frames = 0, rolls = 0;   // in the session now
  int added = 0, changed = 0, moved = 0;  // by this call
  int gone = 0;                           // no longer in the given folders; left out from now on
  int missing = 0;                        // known photographs of other folders that are not where they were
  std::vector<Problem> problems;
};
Result<StockAnswer> New(const NewRequest& request, const Work& work);

// --- pair: which scan belongs to which frame

// Pictures are named by file name, by stem, or by enough of the path to be unique; rolls and lights by their
// names.
struct PairRequest {
  fs::path session;
  std::vector<std::pair<std::string, std::string>> join, refuse;  // scan, frame
  std::vector<std::string> bar, unbar;                            // scans
  // A name, then what is said of it. Rolls: name=, stock=, lab=, format=, rating=ISO, push=EV, scan-day=DATE,
  // black-and-white=yes|no, expired=yes|no (old film: paired, but no part of the look), split=SCAN (another
  // roll begins there), join=OTHER ROLL. Lights: name=, join=OTHER LIGHT, split=FRAME (a light of its own
  // begins there).
  std::vector<std::pair<std::string, std::vector<std::string>>> roll, light;
  std::vector<std::pair<std::string, std::string>> clock;  // body, seconds added to its clock
  bool again = false;                                      // even when nothing has changed
};
struct PairAnswer {
  int scans = 0, moment = 0, light = 0, none = 0, lights = 0;
  int undecided = 0;               // of `none`: wait for a person's word
  std::vector<std::string> notes;  // on scans, clocks and coloured lamps, each with the word that answers it
  bool computed = false;           // false: nothing had changed since the last time
  std::vector<Problem> problems;
};
Result<PairAnswer> Pair(const PairRequest& request, const Work& work);

// --- match: solve the corrections

// A learned look to begin from. `name`: of a look in `folder` (empty: the user's, exchange/look_folder.h), or
// a file; "none": what is built in. The session keeps the look as it is now.
struct LookWish {
  std::string name;
  fs::path folder;
};

struct MatchRequest {
  fs::path session;
  std::optional<double> follow_percent, follow_skin_percent;
  // Of these regions alone, 0..100; negative: with the whole again.
  std::optional<double> follow_foliage_percent, follow_sky_percent;
  std::vector<std::string> of_frames;      // `follow` is meant for these only; empty: for all
  std::map<std::string, double> settings;  // names of base/setting.h
  std::optional<LookWish> look;
  bool again = false;  // even when nothing has changed
};
struct MatchAnswer {
  int frames = 0, settled = 0, to_check = 0;
  bool computed = false;
  std::vector<std::string> notes;
  std::vector<Problem> problems;
};
Result<MatchAnswer> Match(const MatchRequest& request, const Work& work);

// --- orders: what is to be delivered, and how

// Fields are named and written as order_fields.h lists them.
using OrderFieldWords = std::vector<std::pair<std::string, std::string>>;

struct OrderRequest {
  fs::path session;
  std::string name;        // empty: only to list what is kept
  OrderFieldWords fields;  // said of it; what is not said stays as it was, or is as usual in a new order
  bool drop = false;       // it is no longer kept
  bool approve = false;    // what was delivered of it is right: DeliverOptions::changed counts from here
};
struct OrderAnswer {
  std::vector<record::Order> orders;  // all that are kept, by name
  std::vector<std::string> told;      // the same in words
  int approved = 0;                   // pictures, by this call
};
// A change by a person, which can be undone. kNotFound, kInvalidArgument: then nothing is changed.
Result<OrderAnswer> Orders(const OrderRequest& request);

// --- crop: how frames are framed

struct CropRequest {
  fs::path session;
  std::vector<std::string> frames;           // names, as above
  std::optional<int> quarter_turns;          // clockwise, 0..3; what is not set stays as it is
  std::optional<double> straighten_deg;      // -45..45; positive turns the content clockwise
  std::optional<std::array<double, 4>> cut;  // left, top, right, bottom of the turned picture, 0..1
  bool as_taken = false;                     // as the file says after all; nothing else is set then
};
struct CropAnswer {
  int frames = 0;
};
// A change by a person, which can be undone; it moves no correction.
Result<CropAnswer> Crop(const CropRequest& request);

// --- settle: a person has looked at frames

struct SettleRequest {
  fs::path session;
  std::vector<std::string> frames;  // names, as above
  bool settled = true;              // false: they are to be checked after all
};
struct SettleAnswer {
  int frames = 0;
  bool settled = true;
};
// A change by a person, which can be undone.
Result<SettleAnswer> Settle(const SettleRequest& request);

// --- state: a frame's touch and follow under a name

struct StateRequest {
  fs::path session;
  std::string frame;                // a name, as above
  std::string keep, take_up, drop;  // names of states, at most one of them; none: only to list
};
struct StateAnswer {
  struct State {
    std::string name, told;  // told: in plain words
  };
  std::vector<State> states;  // all that are kept of the frame
  std::string now;            // what stands, in the same words
};
// A change by a person, which can be undone. kNotFound when there is no state of that name.
Result<StateAnswer> States(const StateRequest& request);

// --- deliver: full-size files

struct DeliverOptions {
  // Names of orders that the session keeps. None: one order that is not kept, made of `fields`. With one
  // name, `fields` are said of that order first, which is then kept with them (made when there is none of
  // that name).
  std::vector<std::string> orders;
  OrderFieldWords fields;
  bool changed = false;          // only what is not as it was when the order was last approved
  bool again = false;            // also what is delivered already, and over files of others
  std::vector<PhotoId> only;     // these frames alone; empty: all
  std::uint64_t memory_mib = 0;  // most memory for pictures in work; 0: a quarter of the machine
};
struct DeliverRequest {
  fs::path session, out;  // several orders each have a folder of their name in `out`
  DeliverOptions options;
};
struct DeliverAnswer {
  int frames = 0, scans = 0;  // to be delivered, in all orders
  int written = 0, kept = 0;  // kept: delivered earlier and still right
  fs::path out;
  std::vector<std::string> notes;
  std::vector<Problem> problems;
};
Result<DeliverAnswer> Deliver(const DeliverRequest& request, const Work& work);

// --- run: all of it

struct RunRequest {
  std::vector<fs::path> film, digital;
  fs::path out;
  DeliverOptions options;
  std::optional<double> follow_percent;
  std::map<std::string, double> settings;
  std::optional<LookWish> look;
};
struct RunAnswer {
  StockAnswer stock;
  PairAnswer pair;
  MatchAnswer match;
  DeliverAnswer deliver;
  fs::path session, report_json, report_html;
  std::map<std::string, double> seconds;  // by stage
  std::vector<Problem> problems;          // of all stages
};
// Writes <stem>.jpg|.tif|.png for every frame (or as options.fields say), session.samelight, report.json and
// report.html into `out`. kNothingToDo when there is no frame. DeliverOptions::again also pairs and solves
// again.
Result<RunAnswer> Run(const RunRequest& request, const Work& work);

// --- show and check: what the session knows

// Everything, as the reports tell it. Reads only.
Result<report::Report> Show(const fs::path& session);
// The documented JSON of the same.
std::string JsonOf(const report::Report& report);

// One picture, with what belongs to it.
struct PictureAnswer {
  record::Photo photo;
  std::string name;
  std::string roll, light;           // names; empty if none
  std::optional<record::Pair> pair;  // of a scan
  std::vector<std::pair<std::string, record::Pair>>
      scans;  // of a frame: scans paired with it, with their names
  std::vector<std::pair<std::string, record::PairCandidate>> alternatives;
  std::string partner;  // name of the other picture of `pair` or of the solution's scan
  std::optional<record::FrameSolution> solution;  // of a frame
  record::Framing framing;                        // of a frame: the person's, else its file's
  std::string output;
};
Result<PictureAnswer> ShowPicture(const fs::path& session, const std::string& picture);

struct CheckAnswer {
  report::Totals totals;
  struct Frame {
    std::string name, light, scan;
    double left_over = 0;  // largest after, CIEDE2000; 0 without a scan
    std::string worst_region;
    std::vector<record::Flag> reasons;  // to look at it
  };
  std::vector<Frame> to_check;  // in time order
  struct Skin {                 // how even skin comes out inside a light
    std::string light;
    int frames = 0;
    Vec3 sigma{};  // standard deviation of its median L*, a*, b*
  };
  std::vector<Skin> skin;
  std::vector<std::string> scans_without_frame;
  struct Seen {
    std::string picture, text;
  };
  std::vector<Seen> seen;          // near-duplicates and technical faults; nothing is done about them
  std::vector<std::string> notes;  // of the solver, and what is out of date
  std::vector<Problem> problems;
};
Result<CheckAnswer> Check(const fs::path& session);

// --- undo and redo: a person's last change

struct UndoAnswer {
  std::string what;  // the change, in plain words; empty: there was none
  int standing = 0, taken_back = 0;
};
Result<UndoAnswer> Undo(const fs::path& session);
Result<UndoAnswer> Redo(const fs::path& session);

// --- look: looks that last

struct LookLearnRequest {
  std::vector<fs::path> sessions;  // matched ones
  std::string name;                // empty: made from stock and lab
  std::string stock, lab;  // only rolls of these; empty: every stock and lab becomes a look of its own
  bool add = false;        // to what the look of that name has learned already
  fs::path folder;         // where looks are kept; empty: the user's
};
struct LookAnswer {
  fs::path folder;
  std::vector<record::LearnedLook> looks;
  std::vector<fs::path> files;  // of the looks, where they were written
  std::vector<std::string> notes;
  std::vector<Problem> problems;  // looks or sessions that cannot be used
};
// The photographs are only read for the grain of the scans. kInvalidArgument when one name is to stand for
// several stocks; kNothingToDo when no scan has taught anything.
Result<LookAnswer> LearnLooks(const LookLearnRequest& request, const Work& work);
Result<LookAnswer> ListLooks(const fs::path& folder);
// By name or by file.
Result<LookAnswer> ShowLook(const LookWish& wish);

struct LookExportRequest {
  LookWish look;
  fs::path file;           // .clf: Common LUT Format; .icc or .icm: a device link (docs/looks.md)
  double exposure_ev = 0;  // brighter than a usually metered light
  int nodes = 0;           // of the table, along each axis; 0: as many as are usual for the format
};
struct LookExportAnswer {
  fs::path file;
  std::string kind;  // "CLF", "ICC device link"
  int nodes = 0;
  double mean = 0, most = 0;  // CIEDE2000 of the table against the exact look, over a grid between its nodes
};
// Until the file is whole there is none, or the one that was there.
Result<LookExportAnswer> ExportLook(const LookExportRequest& request, const Work& work);

// --- demo: a small invented session to try

struct DemoRequest {
  fs::path folder;
  std::uint64_t seed = 1;
};
struct DemoAnswer {
  fs::path film, digital, truth;
  int scans = 0, frames = 0;
  std::string note;  // when something had to be left out
};
Result<DemoAnswer> Demo(const DemoRequest& request, const Work& work);

// How near a run on a demo session came to its truth.
struct ScoreAnswer {
  std::string text, json;  // a table for a person, an object for a program
};
Result<ScoreAnswer> ScoreDemo(const fs::path& demo, const fs::path& out, const Work& work);

// Limits the workers of all entries; 0: the machine's cores.
void UseWorkers(int count);

// Version of the program.
const char* Version();

}  // namespace samelight::job
