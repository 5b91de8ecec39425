// An open session as a window needs it. Everything is answered from memory and returns at once; what is said
// is in force at once and written behind the caller's back, in order; long work runs in the background.
//
// Threads: one thread (the interface's) calls a Desk. `wake` is called from other threads whenever Poll() has
// something to tell, and must only pass the word on. A process that dies loses at most what was said in its
// last moments.
#pragma once

#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "job/book.h"
#include "job/job.h"
#include "solve/dot.h"
#include "solve/tone_curves.h"

namespace samelight::job {

// What happened since the last Poll().
struct BookChanged {};  // book() is another one: rows may have come, gone or moved
struct FramesChanged {  // only these rows of the book are different
  std::vector<PhotoId> frames;
};
struct Turned {  // undo or redo came to this
  bool undone = true;
  std::string what;  // empty: there was nothing to turn
};
struct JobMoved {};  // job() tells another thing
struct JobEnded {
  std::string what;               // as in Running
  Status status;                  // kCancelled when stopped
  std::vector<std::string> told;  // what came of it, in plain words
  std::vector<Problem> problems;
  std::filesystem::path made;  // folder or page that was made, if any
};
struct Trouble {  // something that was said could not be written
  Error error;
};
using Event = std::variant<BookChanged, FramesChanged, Turned, JobMoved, JobEnded, Trouble>;

// The job in work.
struct Running {
  std::string what;   // "Bringing pairs and corrections up to date"
  std::string stage;  // "reading pictures"
  long done = 0, total = 0;
  std::optional<double> seconds_left;  // of this stage; absent while nothing can be said
};

// Where a change is carried to, and which handles of it.
struct Carry {
  enum class To { kLookAlikes, kLight, kSelection };
  PhotoId from;
  To to = To::kLight;
  std::vector<PhotoId> selection;       // for kSelection
  std::vector<record::Handle> handles;  // empty: the whole touch
};

// Where the value of a handle comes from.
enum class Origin { kSolved, kLight, kRoll, kCarried, kTouched, kNone };
const char* Name(Origin origin);  // "solved", "light", "roll", "carried", "touched", "–"
struct HandleValue {
  record::Handle handle;
  double value = 0;     // what is applied: solved plus touch, as a person reads it (record/handle.h)
  double solved = 0;    // without the touch
  double of_light = 0;  // median over the light, touches included
  double touch = 0;
  Origin origin = Origin::kNone;
  std::optional<double> sigma;  // one standard deviation of the solved value
};

// One region of a frame: its colour now, and against its scan on the same places where there are any.
struct RegionRow {
  record::RegionKind kind = record::RegionKind::kOther;
  int face = -1;     // number of the face, -1: the kind as a whole
  std::string name;  // "skin", "face 2", "white cloth"
  bool has_scan = false;
  Vec3 lab_scan{}, lab_frame{},
      lab_before{};            // CIELAB, D65: scan, frame as corrected, frame as the camera made it
  double before = 0, now = 0;  // CIEDE2000 against the scan; NaN without
  double tolerance = 0;        // its mark, CIEDE2000
  std::string words;           // "a little redder"; empty without a scan
};

using solve::DotMove;
using solve::ToneCurves;

class Desk {
 public:
  class Impl;
  using Wake = std::function<void()>;
  // Errors of session::Session::Open. kCreate makes the session when it is not there.
  static Result<std::unique_ptr<Desk>> Open(const std::filesystem::path& file, Wake wake,
                                            session::Access access = session::Access::kWrite);
  ~Desk();  // stops the job, writes what was said
  Desk(const Desk&) = delete;
  Desk& operator=(const Desk&) = delete;

  std::shared_ptr<const Book> book() const;
  std::vector<Event> Poll();

  // --- one frame
  // Every handle of a frame, in the order of record::AllHandles(); empty for an unsolved frame.
  std::vector<HandleValue> Handles(PhotoId frame) const;
  // The correction of a frame as it stands, or with another touch for trying out (a drag): nothing is kept.
  std::optional<record::Correction> CorrectionOf(PhotoId frame) const;
  std::optional<record::Correction> CorrectionWith(PhotoId frame, const record::Handles& touch) const;
  record::Handles TouchOf(PhotoId frame) const;
  // The matched places of a scan and a frame (pair; or another frame of the scan's light), or of two frames
  // (only the places in `cells`): nullptr when there are none or they are still being read (FramesChanged
  // tells).
  std::shared_ptr<const record::Correspondence> Matched(PhotoId a, PhotoId b) const;

  // Regions of a frame under `correction`: skin first, each face by itself.
  std::vector<RegionRow> Regions(PhotoId frame, const record::Correction& correction) const;
  // The fewest handles that bring a region (as Regions() tells it) to (a, b), starting from `touch`. One
  // handle where one will do; those that are less certain move more easily. Empty for a region that cannot be
  // found.
  std::optional<DotMove> MoveDot(PhotoId frame, const record::Handles& touch, const RegionRow& region,
                                 double a, double b) const;
  ToneCurves Tone(PhotoId frame, const record::Correction& correction) const;

  // How far each of these frames lies from the others as all are corrected now: its skin, white cloth or
  // neutrals against the median of those that show the same, the furthest of them, CIEDE2000. In marks: 1 is
  // the tolerance, or three times the median distance where the frames differ more than that. 0 where fewer
  // than three others show the same. As many as `frames`.
  std::vector<double> Apart(const std::vector<PhotoId>& frames) const;

  // --- what a person says; each is one step of the history. Ids that the book does not hold are ignored.
  void Touch(PhotoId frame, const record::Handles& handles);
  // Who would be touched by a carry, without the frame it comes from.
  std::vector<PhotoId> Reach(const Carry& carry) const;
  void DoCarry(const Carry& carry);
  // Takes the touch away from frames: they are as solved again. Where they follow the film stays.
  void Untouch(const std::vector<PhotoId>& frames);
  // Percent 0..100. No frames: the whole session. With `region`, that region alone (FollowRegions()).
  void SetFollow(double percent, const std::vector<PhotoId>& frames,
                 std::optional<record::RegionKind> region);
  void Settle(const std::vector<PhotoId>& frames, bool settled);
  void Join(PhotoId scan, PhotoId frame);
  // None of these frames goes with the scan.
  void Refuse(PhotoId scan, const std::vector<PhotoId>& frames);
  void Bar(PhotoId scan, bool barred);
  // A light of its own begins at `frame`; two lights (indices into Book::lights) are one; a light's name.
  void SplitLight(PhotoId frame);
  void JoinLights(int light, int other);
  // The edge between `light` and the next is moved: the next begins at `frame`, which lies in one of them.
  void MoveLightEdge(int light, PhotoId frame);
  void RenameLight(int light, const std::string& name);
  // A fact of a roll: key and value as in session::RollFact.
  Status SetRoll(int roll, const std::string& key, const std::string& value);
  // Another roll begins at this scan; two rolls (indices into Book::rolls) are one.
  void SplitRoll(PhotoId scan);
  void JoinRolls(int roll, int other);
  // Seconds added to the clock of a body, in the place of what was estimated. kInvalidArgument: not a number.
  Status SetClock(const std::string& body, double seconds);
  Status SetSetting(const std::string& name, double value);
  // A learned look to begin from ("none": what is built in); its small file is read at once. Errors of
  // exchange::FindLook.
  Status TakeLook(const LookWish& wish);
  // An order with these fields is kept under its name (what is not said of it stays), or no longer.
  Status KeepOrder(const std::string& name, const OrderFieldWords& fields);
  void DropOrder(const std::string& name);
  // How frames are framed; nothing: as their files say.
  Status SetFraming(const std::vector<PhotoId>& frames, const std::optional<record::Framing>& framing);
  record::Framing FramingOf(PhotoId frame) const;
  void KeepState(PhotoId frame, const std::string& name);
  void DropState(PhotoId frame, const std::string& name);
  void TakeUpState(PhotoId frame, const std::string& name);
  std::vector<session::KeptState> States(PhotoId frame) const;
  // The frame under a kept state, to be looked at beside what stands.
  std::optional<record::Correction> CorrectionOfState(PhotoId frame, const std::string& name) const;
  // Answered by Turned and then FramesChanged or BookChanged.
  void Undo();
  void Redo();
  bool CanUndo() const;
  bool CanRedo() const;

  // --- what pairing by hand would come to
  struct PairTrial {
    std::optional<double> skin_now, skin_then;  // left-over of skin, CIEDE2000; absent without skin in both
    std::optional<double> all_then;             // median over all regions in both
    std::optional<double> confidence;           // of the pairing for this frame, if it was a candidate
  };
  PairTrial TryPair(PhotoId scan, PhotoId frame) const;

  // --- long work: one at a time; false when another job runs
  bool StartAdd(const std::vector<std::filesystem::path>& film,
                const std::vector<std::filesystem::path>& digital);
  bool StartUpdate();  // measure, pair and solve what is not up to date
  bool StartDeliver(const std::filesystem::path& out, const DeliverOptions& options);
  // What was delivered of an order is right: DeliverOptions::changed counts from here.
  bool StartApprove(const std::string& order);
  // What this session teaches is kept as looks that last (LearnLooks); `sessions` is filled in. It must be up
  // to date.
  bool StartKeepLook(const LookLearnRequest& request);
  // A kept look as a table for other programs (ExportLook).
  bool StartExportLook(const LookExportRequest& request);
  // "proof sheet.html" there: every delivered picture with room for the photographer's notes.
  bool StartProofSheet(const std::filesystem::path& folder);
  void CancelJob();
  std::optional<Running> job() const;
  // Blocks until the job has ended and everything said is written. For tests and for closing.
  void Wait();

 private:
  explicit Desk(std::unique_ptr<Impl> impl);
  std::unique_ptr<Impl> impl_;
};

// Regions that can follow the film at their own share.
const std::vector<record::RegionKind>& FollowRegions();

}  // namespace samelight::job
