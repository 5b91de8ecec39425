// The inside of the desk: its state on the caller's thread, the writer behind it, and the job in work.
#pragma once

#include <condition_variable>
#include <deque>
#include <map>
#include <mutex>
#include <thread>

#include "job/desk.h"
#include "job/job_progress.h"

namespace samelight::job {

// Writes to the session in order, behind the caller's back.
class Scribe {
 public:
  using Errand = std::function<void(session::Session&)>;
  explicit Scribe(std::unique_ptr<session::Session> session);
  ~Scribe();  // does what is left
  void Do(Errand errand);
  void Wait();
  const session::Session& session() const { return *session_; }

 private:
  void Work();
  std::unique_ptr<session::Session> session_;
  std::mutex mutex_;
  std::condition_variable come_, done_;
  std::deque<Errand> errands_;
  bool busy_ = false, closing_ = false;
  std::thread thread_;
};

class Desk::Impl {
 public:
  Impl(std::unique_ptr<session::Session> session, std::shared_ptr<const Book> book, Wake wake);
  ~Impl();

  // --- the caller's thread
  std::shared_ptr<const Book> base, book;  // as read; and with what was said since
  using Key = std::pair<PhotoId, PhotoId>;
  std::map<Key, std::shared_ptr<const record::Correspondence>> matched;
  std::vector<Event> events;

  // Says it: in force at once, written in order. `frames`: the rows that change; `whole`: the book's order
  // may.
  void Say(std::vector<session::Word> words, const std::string& what, std::vector<PhotoId> frames, bool whole,
           bool stale);
  // The book anew from base and standing.
  void Rebuild(const session::Standing& standing, std::vector<session::HistoryEntry> history, bool stale);
  // The same, of what was applied to base already.
  void Take(std::shared_ptr<Book> next, std::vector<session::HistoryEntry> history, bool stale);
  void Turn(bool undo);
  void ReadAgain();    // the whole book, in the background
  void ReadMatches();  // the correspondences, in the background
  std::string NameOf(PhotoId id) const;

  // --- from any thread: `news` runs on the caller's thread at the next Poll
  void Tell(std::function<void()> news);
  void Fail(const Error& error);

  // --- the job in work
  using Task = std::function<Status(session::Session&, const Work&, JobEnded&)>;
  bool Start(const std::string& what, Task task);

  std::unique_ptr<Scribe> scribe;
  Wake wake;
  std::mutex mutex;  // guards `news` only
  std::vector<std::function<void()>> news;
  std::optional<std::thread> worker;
  std::shared_ptr<JobProgress> progress;
  Cancel cancel;
  std::string job_what;

 private:
  // Left-overs measured under another touch or follow than solved, so that each is measured once.
  struct Case {
    record::Photo photo;
    record::FrameSolution solved;
    record::Correction wished;
    std::shared_ptr<const record::Correspondence> matched;
    std::shared_ptr<const std::unordered_map<PhotoId, record::Measured>> measured;
    double tolerance = 0;
  };
  struct Judged {
    record::Correction under;
    std::vector<record::LeftOver> left_over;
    std::vector<record::Flag> flags;
    static Judged Of(const Case& one);
  };
  std::shared_ptr<const Book> before_;  // the book before this one
  long said_ = 0;                       // how often something was said
  std::map<PhotoId, Judged> judged_;
  std::map<PhotoId, record::Correction> judging_;  // in the background
  void Judge(Book& changed);
  static void Put(const Judged& judged, const Book& book_of, FrameRow& row);
  // The skin of every light in which a correction differs from what was solved, against its neighbours.
  void JudgeSkin(Book& changed) const;
};

}  // namespace samelight::job
