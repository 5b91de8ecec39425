#include "window/model/problems.h"

#include <algorithm>

namespace samelight::window {

Problems::Problems(DeskLink* link, QObject* parent) : QAbstractListModel(parent), link_(link) {
  connect(link, &DeskLink::opened, this, [this] {
    of_job_.clear();
    Rebuild();
  });
  connect(link, &DeskLink::bookChanged, this, &Problems::Rebuild);
  connect(link, &DeskLink::jobEnded, this, [this](const job::JobEnded& end) {
    of_job_ = end.problems;
    Rebuild();
  });
  Rebuild();
}

void Problems::Rebuild() {
  beginResetModel();
  all_ = link_->book()->problems;
  for (const job::Problem& problem : of_job_)
    if (std::none_of(all_.begin(), all_.end(), [&](const job::Problem& known) {
          return known.file == problem.file && known.why == problem.why;
        }))
      all_.push_back(problem);
  endResetModel();
}

int Problems::rowCount(const QModelIndex& parent) const {
  return parent.isValid() ? 0 : static_cast<int>(all_.size());
}

QVariant Problems::data(const QModelIndex& index, int role) const {
  if (!checkIndex(index, CheckIndexOption::IndexIsValid)) return {};
  const job::Problem& problem = all_[index.row()];
  switch (role) {
    case Qt::DisplayRole:
      return QString::fromStdString(problem.file + ": " + problem.why);
    case kFile:
      return QString::fromStdString(problem.file);
    case kWhat:
      return QString::fromStdString(problem.what);
    case kWhy:
      return QString::fromStdString(problem.why);
    case kTodo:
      return QString::fromStdString(problem.todo);
    default:
      return {};
  }
}

QHash<int, QByteArray> Problems::roleNames() const {
  return {{Qt::DisplayRole, "display"}, {kFile, "file"}, {kWhat, "what"}, {kWhy, "why"}, {kTodo, "todo"}};
}

}  // namespace samelight::window
