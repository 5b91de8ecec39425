// The desk and its pictures as Qt objects see them: one place where words from other threads come in.
#pragma once

#include <QtCore/QObject>
#include <QtCore/QString>
#include <filesystem>
#include <memory>
#include <thread>

#include "job/desk.h"
#include "job/pictures.h"

namespace samelight::window {

// Lives on the interface thread, as everything that it signals. Without a session open, desk() is nullptr.
class DeskLink final : public QObject {
  Q_OBJECT
 public:
  explicit DeskLink(QObject* parent = nullptr);
  ~DeskLink() override;

  // Never waits: `opened` or `couldNotOpen` follows. A later call of OpenSoon or Close wins.
  void OpenSoon(const std::filesystem::path& session, session::Access access = session::Access::kWrite);
  // What was said is written in the background; the next opening waits for that.
  void Close();
  job::Desk* desk() const { return desk_.get(); }
  job::Pictures& pictures() { return pictures_; }
  // An empty book when nothing is open; never nullptr.
  std::shared_ptr<const job::Book> book() const;

 signals:
  void opened();  // another session (or none)
  void couldNotOpen(const QString& text);
  void bookChanged();  // rows may have come, gone or moved
  void framesChanged(const std::vector<samelight::PhotoId>& frames);
  void turned(bool undone, const QString& what);
  void jobMoved();
  void jobEnded(const samelight::job::JobEnded& end);
  void trouble(const QString& text);
  void pictureMade(const samelight::job::MadePicture& made);
  void thumbnailsMade();

 private:
  // Rung from other threads; knows whether someone still listens. What is handed over lies under a lock of
  // our own, where a thread sanitizer sees it; Qt only carries the word that there is something.
  struct Bell;
  static void Ring(Bell& bell, std::function<void()> mail);
  static std::function<void()> Ringer(const std::shared_ptr<Bell>& bell);
  Q_INVOKABLE void Hear();
  void HearDesk();
  std::shared_ptr<Bell> bell_;
  job::Pictures pictures_;
  std::unique_ptr<job::Desk> desk_;
  void Take(std::unique_ptr<job::Desk> desk);
  std::thread door_;  // opens or closes a desk
  int openings_ = 0;  // to know whether an opening is still wanted
};

}  // namespace samelight::window
