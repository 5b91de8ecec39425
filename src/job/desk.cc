#include "job/desk.h"

#include <algorithm>
#include <chrono>
#include <optional>
#include <set>
#include <span>
#include <utility>

#include "job/desk_impl.h"
#include "job/window_words.h"
#include "solve/reasons.h"

namespace samelight::job {

Scribe::Scribe(std::unique_ptr<session::Session> session)
    : session_(std::move(session)), thread_([this] { Work(); }) {}

Scribe::~Scribe() {
  {
    const std::lock_guard lock(mutex_);
    closing_ = true;
  }
  come_.notify_all();
  thread_.join();
}

void Scribe::Do(Errand errand) {
  {
    const std::lock_guard lock(mutex_);
    errands_.push_back(std::move(errand));
  }
  come_.notify_all();
}

void Scribe::Wait() {
  std::unique_lock lock(mutex_);
  done_.wait(lock, [this] { return errands_.empty() && !busy_; });
}

void Scribe::Work() {
  std::unique_lock lock(mutex_);
  while (true) {
    come_.wait(lock, [this] { return closing_ || !errands_.empty(); });
    if (errands_.empty()) return;  // closing
    const Errand errand = std::move(errands_.front());
    errands_.pop_front();
    busy_ = true;
    lock.unlock();
    errand(*session_);
    lock.lock();
    busy_ = false;
    done_.notify_all();
  }
}

Desk::Impl::Impl(std::unique_ptr<session::Session> session, std::shared_ptr<const Book> read, Wake wake_up)
    : base(read),
      book(std::move(read)),
      scribe(std::make_unique<Scribe>(std::move(session))),
      wake(std::move(wake_up)) {
  ReadMatches();
}

Desk::Impl::~Impl() {
  cancel.Request();
  if (worker) worker->join();
  scribe.reset();  // writes what is left
}

void Desk::Impl::Tell(std::function<void()> one) {
  {
    const std::lock_guard lock(mutex);
    news.push_back(std::move(one));
  }
  if (wake) wake();
}

void Desk::Impl::Fail(const Error& error) {
  Tell([this, error = ErrorForWindow(error)] { events.emplace_back(Trouble{error}); });
}

std::string Desk::Impl::NameOf(PhotoId id) const {
  if (const FrameRow* row = book->Frame(id)) return row->name;
  if (const ScanRow* row = book->Scan(id)) return row->name;
  return "?";
}

// Rows whose touch or follow differ from what was solved are judged on their matched places, once they are
// read. A few at once; many (a carry to a whole light) in the background, so that the caller does not wait.
void Desk::Impl::Judge(Book& changed) {
  constexpr std::size_t kAtOnce = 4;  // about a millisecond each
  std::vector<Case> open;
  for (FrameRow& row : changed.frames) {
    if (!row.solved || row.solution.correction == row.solved_under) continue;
    if (row.scan != row.solution.scan) continue;
    const FrameRow* solved = base->Frame(row.photo.id);
    if (solved == nullptr) continue;
    const auto pair = matched.find({row.scan, row.photo.id});
    if (row.scan.valid() && pair == matched.end()) continue;  // not read yet, or nothing matched
    const auto kept = judged_.find(row.photo.id);
    if (kept != judged_.end() && kept->second.under == row.solution.correction) {
      Put(kept->second, changed, row);
      continue;
    }
    const auto asked = judging_.find(row.photo.id);
    if (asked != judging_.end() && asked->second == row.solution.correction) continue;  // in work
    Case one{row.photo,
             solved->solution,
             row.solution.correction,
             pair == matched.end() ? nullptr : pair->second,
             changed.measured,
             changed.tolerance};
    if (one.matched == nullptr) {  // a matter of microseconds
      Put(judged_[row.photo.id] = Judged::Of(one), changed, row);
      continue;
    }
    open.push_back(std::move(one));
  }
  if (open.size() <= kAtOnce) {
    for (Case& one : open) {
      const Judged& judged = judged_[one.photo.id] = Judged::Of(one);
      Put(judged, changed, changed.frames[static_cast<std::size_t>(changed.FrameIndex(one.photo.id))]);
    }
  } else {
    for (const Case& one : open) judging_[one.photo.id] = one.wished;
    scribe->Do([this, open = std::move(open)](session::Session&) {
      auto judged = std::make_shared<std::map<PhotoId, Judged>>();
      for (const Case& one : open) (*judged)[one.photo.id] = Judged::Of(one);
      Tell([this, judged] {
        FramesChanged changed_rows;
        for (auto& [frame, one] : *judged) {
          changed_rows.frames.push_back(frame);
          if (judging_[frame] == one.under) judging_.erase(frame);
          judged_[frame] = std::move(one);
        }
        Rebuild(book->standing, book->history, book->stale);
        events.emplace_back(std::move(changed_rows));
      });
    });
  }
  JudgeSkin(changed);
  changed.Index();  // states may be others
}

void Desk::Impl::JudgeSkin(Book& changed) const {
  std::set<int> lights;
  for (const FrameRow& row : changed.frames) {
    const FrameRow* solved = base->Frame(row.photo.id);
    if (row.solved && row.light >= 0 && solved != nullptr &&
        row.solution.correction != solved->solution.correction)
      lights.insert(row.light);
  }
  for (const int light : lights) {
    std::vector<record::FrameSolution*> solutions;
    for (FrameRow& row : changed.frames)
      if (row.solved && row.light == light) solutions.push_back(&row.solution);
    solve::FlagOutliers(*changed.measured, solutions);
    for (FrameRow& row : changed.frames)
      if (row.solved && row.light == light) {
        row.reasons = row.solution.flags;
        row.state = StateOf(changed.standing, row);
      }
  }
}

Desk::Impl::Judged Desk::Impl::Judged::Of(const Case& one) {
  record::FrameSolution solution = one.solved;
  solution.correction = one.wished;
  const auto measured = one.measured->find(one.photo.id);
  solve::Rejudge({&one.photo, measured == one.measured->end() ? nullptr : &measured->second,
                  one.matched.get(), one.tolerance},
                 solution);
  return {solution.correction, std::move(solution.left_over), std::move(solution.flags)};
}

void Desk::Impl::Put(const Judged& judged, const Book& book_of, FrameRow& row) {
  row.solved_under = judged.under;
  row.solution.left_over = judged.left_over;
  row.solution.flags = row.reasons = judged.flags;
  row.worst = 0;
  for (const record::LeftOver& l : row.solution.left_over) row.worst = std::max(row.worst, l.after);
  row.state = StateOf(book_of.standing, row);
}

namespace {

std::shared_ptr<Book> Applied(const session::Standing& standing, const Book& base) {
  auto next = std::make_shared<Book>(base);
  Apply(standing, *next);
  return next;
}

}  // namespace

void Desk::Impl::Rebuild(const session::Standing& standing, std::vector<session::HistoryEntry> history,
                         bool stale) {
  Take(Applied(standing, *base), std::move(history), stale);
}

void Desk::Impl::Take(std::shared_ptr<Book> next, std::vector<session::HistoryEntry> history, bool stale) {
  next->history = std::move(history);
  next->stale = base->stale || stale;
  Judge(*next);
  // The book before the last one is in nobody else's hands any more: letting go of thousands of rows takes
  // its time.
  auto gone = std::make_shared<std::shared_ptr<const Book>>(
      std::exchange(before_, std::exchange(book, std::move(next))));
  scribe->Do([gone](session::Session&) { gone->reset(); });
}

void Desk::Impl::Say(std::vector<session::Word> words, const std::string& what, std::vector<PhotoId> frames,
                     bool whole, bool stale) {
  if (words.empty()) return;
  ++said_;
  session::Standing standing = book->standing;
  for (const session::Word& word : words) session::Add(standing, word);
  std::vector<session::HistoryEntry> history = book->history;
  std::erase_if(history, [](const session::HistoryEntry& e) { return !e.standing; });
  const auto now = std::chrono::system_clock::now().time_since_epoch();
  history.push_back({history.empty() ? 1 : history.back().step + 1,
                     std::chrono::duration_cast<std::chrono::microseconds>(now).count(), what, true});
  Rebuild(standing, std::move(history), book->stale || stale);
  if (whole)
    events.emplace_back(BookChanged{});
  else
    events.emplace_back(FramesChanged{std::move(frames)});
  if (wake) wake();
  scribe->Do([this, words = std::move(words), what](session::Session& session) {
    Result<session::Change> change = session.Begin();
    Status said = change.ok() ? change->Say(words, what) : Status(change.error());
    if (said.ok()) said = change->Commit();
    if (!said.ok()) Fail(said.error());
  });
}

namespace {

// The frames that these words are about; nothing when they are about anything else too.
std::optional<std::vector<PhotoId>> FramesOf(std::span<const session::Word> words, const Book& book) {
  std::vector<PhotoId> frames;
  for (const session::Word& word : words) {
    if (const auto* touch = std::get_if<session::Touch>(&word)) {
      frames.push_back(touch->frame);
    } else if (const auto* settle = std::get_if<session::Settle>(&word)) {
      frames.push_back(settle->frame);
    } else if (const auto* framed = std::get_if<session::Frame>(&word)) {
      frames.push_back(framed->frame);
    } else if (const auto* state = std::get_if<session::KeepState>(&word)) {
      frames.push_back(state->frame);
    } else if (const auto* follow = std::get_if<session::Follow>(&word)) {
      frames.insert(frames.end(), follow->frames.begin(), follow->frames.end());
      if (follow->frames.empty())
        for (const FrameRow& row : book.frames) frames.push_back(row.photo.id);
    } else {
      return std::nullopt;
    }
  }
  return frames;
}

}  // namespace

void Desk::Impl::Turn(bool undo) {
  scribe->Do([this, undo, on = base, said = said_](session::Session& session) {
    std::string what;
    Result<std::vector<session::Word>> before = session.Words();
    if (!before.ok()) return Fail(before.error());
    {
      Result<session::Change> change = session.Begin();
      if (!change.ok()) return Fail(change.error());
      Result<std::optional<std::string>> turned = undo ? change->Undo() : change->Redo();
      if (!turned.ok()) return Fail(turned.error());
      what = turned->value_or("");
      Status committed = change->Commit();
      if (!committed.ok()) return Fail(committed.error());
    }
    Result<std::vector<session::Word>> words = session.Words();
    if (!words.ok()) return Fail(words.error());
    Result<std::vector<session::HistoryEntry>> history = session.History();
    if (!history.ok()) return Fail(history.error());
    // A step lies on top of all others: what it said is what one list has more than the other.
    const bool fewer = words->size() < before->size();
    std::vector<session::Word> step((fewer ? *before : *words).begin() +
                                        static_cast<std::ptrdiff_t>(std::min(words->size(), before->size())),
                                    (fewer ? *before : *words).end());
    // Thousands of rows are copied here rather than where a person waits.
    std::shared_ptr<Book> next = Applied(session::Fold(*words), *on);
    Tell([this, undo, what, on, said, next = std::move(next), history = std::move(*history),
          step = std::move(step)] {
      events.emplace_back(Turned{undo, what});
      if (what.empty()) return;
      if (said != said_) return ReadAgain();  // a word came after: the session knows both
      const session::Standing old = book->standing, &standing = next->standing;
      // What pairing was told cannot be taken back from rows that were read; those come anew.
      const bool rows = old.joined != standing.joined || old.refused != standing.refused ||
                        old.roll_facts != standing.roll_facts || old.light_starts != standing.light_starts ||
                        old.together != standing.together || old.light_names != standing.light_names ||
                        old.barred != standing.barred || old.let_in != standing.let_in ||
                        old.clock_offset_s != standing.clock_offset_s || old.settings != standing.settings;
      const bool stale = rows && book->stale;
      on == base ? Take(next, history, stale) : Rebuild(standing, history, stale);
      if (std::optional<std::vector<PhotoId>> frames = FramesOf(step, *book); frames && !rows)
        events.emplace_back(FramesChanged{std::move(*frames)});
      else
        events.emplace_back(BookChanged{});
      if (rows) ReadAgain();
    });
  });
}

void Desk::Impl::ReadAgain() {
  scribe->Do([this, said = said_](session::Session& session) {
    Result<std::shared_ptr<const Book>> read = ReadBook(session);
    if (!read.ok()) return Fail(read.error());
    Tell([this, said, read = std::move(*read)] {
      base = read;
      judged_.clear();
      if (said == said_) {
        Rebuild(read->standing, read->history, read->stale);
      } else {  // what was said while it was read is put on top, until it is read too
        Rebuild(book->standing, book->history, book->stale);
        ReadAgain();
      }
      events.emplace_back(BookChanged{});
    });
  });
}

void Desk::Impl::ReadMatches() {
  scribe->Do([this](session::Session& session) {
    Result<session::PairResult> pairs = session.Pairs();
    if (!pairs.ok()) return Fail(pairs.error());
    auto read = std::make_shared<std::map<Key, std::shared_ptr<const record::Correspondence>>>();
    for (record::Correspondence& c : pairs->scan_to_frame) {
      const Key key{c.a, c.b};
      (*read)[key] = std::make_shared<const record::Correspondence>(std::move(c));
    }
    // Of two frames, told both ways.
    for (record::Correspondence& c : pairs->frame_to_frame) {
      record::Correspondence back = c;
      std::swap(back.a, back.b);
      for (record::Cell& cell : back.cells) {
        std::swap(cell.ax, cell.bx);
        std::swap(cell.ay, cell.by);
      }
      (*read)[{back.a, back.b}] = std::make_shared<const record::Correspondence>(std::move(back));
      const Key key{c.a, c.b};
      (*read)[key] = std::make_shared<const record::Correspondence>(std::move(c));
    }
    Tell([this, read] {
      matched = std::move(*read);
      judged_.clear();
      Rebuild(book->standing, book->history, book->stale);
      FramesChanged paired;
      for (const auto& [key, places] : matched) paired.frames.push_back(key.second);
      events.emplace_back(std::move(paired));
    });
  });
}

// --- Desk

Desk::Desk(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
Desk::~Desk() = default;

Result<std::unique_ptr<Desk>> Desk::Open(const std::filesystem::path& file, Wake wake,
                                         session::Access access) {
  Result<std::unique_ptr<session::Session>> session = session::Session::Open(file, access);
  if (!session.ok()) return ErrorForWindow(session.error());
  Result<std::shared_ptr<const Book>> book = ReadBook(**session);
  if (!book.ok()) return ErrorForWindow(book.error());
  return std::unique_ptr<Desk>(
      new Desk(std::make_unique<Impl>(std::move(*session), std::move(*book), std::move(wake))));
}

std::shared_ptr<const Book> Desk::book() const { return impl_->book; }

std::vector<Event> Desk::Poll() {
  std::vector<std::function<void()>> news;
  {
    const std::lock_guard lock(impl_->mutex);
    news.swap(impl_->news);
  }
  for (const std::function<void()>& one : news) one();
  return std::exchange(impl_->events, {});
}

void Desk::Wait() {
  if (impl_->worker) impl_->worker->join(), impl_->worker.reset();
  impl_->scribe->Wait();
}

void Desk::Undo() { impl_->Turn(true); }
void Desk::Redo() { impl_->Turn(false); }

bool Desk::CanUndo() const {
  const std::vector<session::HistoryEntry>& history = impl_->book->history;
  return std::any_of(history.begin(), history.end(),
                     [](const session::HistoryEntry& e) { return e.standing; });
}
bool Desk::CanRedo() const {
  const std::vector<session::HistoryEntry>& history = impl_->book->history;
  return std::any_of(history.begin(), history.end(),
                     [](const session::HistoryEntry& e) { return !e.standing; });
}

const char* Name(Origin origin) {
  switch (origin) {
    case Origin::kSolved:
      return "solved";
    case Origin::kLight:
      return "light";
    case Origin::kRoll:
      return "roll";
    case Origin::kCarried:
      return "carried";
    case Origin::kTouched:
      return "touched";
    case Origin::kNone:
      break;
  }
  return "\u2013";
}

}  // namespace samelight::job
