#include "window/model/looks.h"

#include <mutex>
#include <utility>

namespace samelight::window {
namespace {

QString Told(const record::LearnedLook& look) {
  int scans = 0, lights = 0;
  for (const record::Lesson& lesson : look.lessons) {
    scans += lesson.scans;
    lights += lesson.lights;
  }
  QStringList parts;
  if (!look.stock.empty()) parts += QString::fromStdString(look.stock);
  if (!look.lab.empty()) parts += QObject::tr("lab %1").arg(QString::fromStdString(look.lab));
  if (!look.source.empty()) parts += QObject::tr("seen through %1").arg(QString::fromStdString(look.source));
  const std::size_t sessions = look.lessons.size();
  parts += (sessions == 1 ? QObject::tr("learned from one session, %1 scans in %2 lights")
                          : QObject::tr("learned from %3 sessions, %1 scans in %2 lights").arg(sessions))
               .arg(scans)
               .arg(lights);
  return parts.join(QStringLiteral(", "));
}

}  // namespace

struct Looks::Answer {
  std::mutex mutex;
  std::vector<record::LearnedLook> looks;
  QStringList problems;
};

Looks::Looks(QObject* parent) : QAbstractListModel(parent), answer_(std::make_unique<Answer>()) {
  reader_ = std::thread([this, answer = answer_.get()] {
    Result<job::LookAnswer> kept = job::ListLooks({});
    const std::lock_guard lock(answer->mutex);
    if (kept.ok()) {
      answer->looks = std::move(kept->looks);
      for (const job::Problem& problem : kept->problems)
        answer->problems += QString::fromStdString(problem.file + ": " + problem.why);
    } else {
      answer->problems += QString::fromStdString(kept.error().Text());
    }
    QMetaObject::invokeMethod(this, "Take", Qt::QueuedConnection);
  });
}

// What is still on its way is dropped with the object that it was sent to.
Looks::~Looks() { reader_.join(); }

void Looks::Take() {
  const std::lock_guard lock(answer_->mutex);
  beginResetModel();
  looks_ = std::move(answer_->looks);
  problems_ = std::move(answer_->problems);
  read_ = true;
  endResetModel();
}

int Looks::rowCount(const QModelIndex& parent) const {
  return parent.isValid() ? 0 : static_cast<int>(looks_.size());
}

QVariant Looks::data(const QModelIndex& index, int role) const {
  if (!checkIndex(index, CheckIndexOption::IndexIsValid)) return {};
  const record::LearnedLook& look = looks_[static_cast<std::size_t>(index.row())];
  switch (role) {
    case Qt::DisplayRole:
    case kName:
      return QString::fromStdString(look.name);
    case Qt::ToolTipRole:
    case kTold:
      return Told(look);
    default:
      return {};
  }
}

QHash<int, QByteArray> Looks::roleNames() const {
  return {{Qt::DisplayRole, "display"}, {kName, "name"}, {kTold, "told"}};
}

int Looks::RowOf(const QString& name) const {
  for (std::size_t i = 0; i < looks_.size(); ++i)
    if (looks_[i].name == name.toStdString()) return static_cast<int>(i);
  return -1;
}

}  // namespace samelight::window
