#include "window/model/desk_link.h"

#include <QtCore/QMetaObject>
#include <mutex>
#include <utility>

namespace samelight::window {

// One ring is enough until it was heard: words from other threads do not flood the event queue.
struct DeskLink::Bell {
  std::mutex mutex;
  DeskLink* listener = nullptr;
  bool rung = false;
  std::vector<std::function<void()>> mail;  // to be done by the listener
};

void DeskLink::Ring(Bell& bell, std::function<void()> mail) {
  const std::lock_guard lock(bell.mutex);
  if (bell.listener == nullptr) return;
  if (mail) bell.mail.push_back(std::move(mail));
  if (std::exchange(bell.rung, true)) return;
  QMetaObject::invokeMethod(bell.listener, "Hear", Qt::QueuedConnection);
}

std::function<void()> DeskLink::Ringer(const std::shared_ptr<Bell>& bell) {
  return [bell] { Ring(*bell, {}); };
}

DeskLink::DeskLink(QObject* parent)
    : QObject(parent), bell_(std::make_shared<Bell>()), pictures_(Ringer(bell_)) {
  bell_->listener = this;
}

DeskLink::~DeskLink() {
  std::vector<std::function<void()>> unread;  // may hold a desk, which holds the bell
  {
    const std::lock_guard lock(bell_->mutex);
    bell_->listener = nullptr;
    unread.swap(bell_->mail);
  }
  if (door_.joinable()) door_.join();
}

void DeskLink::Take(std::unique_ptr<job::Desk> desk) {
  Close();
  desk_ = std::move(desk);
  pictures_.SetBook(desk_->book());
  emit opened();
  emit bookChanged();
}

void DeskLink::OpenSoon(const std::filesystem::path& session, session::Access access) {
  std::error_code ec;
  if (desk_ != nullptr && std::filesystem::equivalent(book()->file, session, ec)) Close();
  const int opening = ++openings_;
  std::thread before = std::move(door_);
  door_ = std::thread([this, bell = bell_, session, access, opening, before = std::move(before)]() mutable {
    if (before.joinable()) before.join();
    auto desk =
        std::make_shared<Result<std::unique_ptr<job::Desk>>>(job::Desk::Open(session, Ringer(bell), access));
    Ring(*bell, [this, desk = std::move(desk), opening] {
      if (opening != openings_) return;
      if (!desk->ok()) return emit couldNotOpen(QString::fromStdString(desk->error().Text()));
      Take(std::move(**desk));
    });
  });
}

void DeskLink::Close() {
  ++openings_;
  if (desk_ == nullptr) return;
  pictures_.SetBook(nullptr);
  std::thread before = std::move(door_);
  door_ = std::thread(
      [desk = std::shared_ptr<job::Desk>(std::move(desk_)), before = std::move(before)]() mutable {
        if (before.joinable()) before.join();
        desk.reset();
      });
  emit opened();
  emit bookChanged();
}

std::shared_ptr<const job::Book> DeskLink::book() const {
  static const std::shared_ptr<const job::Book> empty = [] {
    auto book = std::make_shared<job::Book>();
    book->measured = std::make_shared<const std::unordered_map<PhotoId, record::Measured>>();
    return book;
  }();
  return desk_ == nullptr ? empty : desk_->book();
}

void DeskLink::Hear() {
  std::vector<std::function<void()>> mail;
  {
    const std::lock_guard lock(bell_->mutex);
    bell_->rung = false;
    mail.swap(bell_->mail);
  }
  for (const std::function<void()>& one : mail) one();
  HearDesk();
}

void DeskLink::HearDesk() {
  if (desk_ != nullptr) {
    const std::vector<job::Event> events = desk_->Poll();
    bool book = false;
    std::vector<PhotoId> frames;
    for (const job::Event& event : events) {
      book = book || std::holds_alternative<job::BookChanged>(event);
      if (const auto* changed = std::get_if<job::FramesChanged>(&event))
        frames.insert(frames.end(), changed->frames.begin(), changed->frames.end());
    }
    if (book || !frames.empty()) pictures_.SetBook(desk_->book());
    if (book)
      emit bookChanged();
    else if (!frames.empty())
      emit framesChanged(frames);
    for (const job::Event& event : events) {
      if (const auto* turn = std::get_if<job::Turned>(&event))
        emit turned(turn->undone, QString::fromStdString(turn->what));
      if (std::holds_alternative<job::JobMoved>(event)) emit jobMoved();
      if (const auto* end = std::get_if<job::JobEnded>(&event)) emit jobEnded(*end);
      if (const auto* wrong = std::get_if<job::Trouble>(&event))
        emit trouble(QString::fromStdString(wrong->error.Text()));
    }
  }
  for (const job::MadePicture& made : pictures_.Poll()) emit pictureMade(made);
  emit thumbnailsMade();
}

}  // namespace samelight::window
