// Rows of a model over the instruments: as many as `count` says. Another number of rows resets the model, any
// other change tells all of its cells.
#pragma once

#include <QtCore/QAbstractListModel>
#include <QtCore/QAbstractTableModel>

#include "window/model/instruments.h"

namespace samelight::window {

// `Base`: QAbstractListModel or QAbstractTableModel.
template <class Base>
class InstrumentRows : public Base {
 public:
  int rowCount(const QModelIndex& parent = {}) const override { return parent.isValid() ? 0 : rows_; }

 protected:
  using Count = std::size_t (*)(const Instruments&);
  InstrumentRows(Instruments* instruments, Count count, QObject* parent)
      : Base(parent), instruments_(instruments), count_(count), rows_(Now()) {
    QObject::connect(instruments, &Instruments::changed, this, [this] { Follow(); });
  }
  bool Holds(const QModelIndex& index) const { return index.isValid() && index.row() < rows_; }
  Instruments* const instruments_;

 private:
  int Now() const { return static_cast<int>(count_(*instruments_)); }
  void Follow() {
    const QAbstractItemModel& all = *this;
    if (Now() != rows_) {
      this->beginResetModel();
      rows_ = Now();
      this->endResetModel();
    } else if (rows_ > 0) {
      Q_EMIT this->dataChanged(this->index(0, 0), this->index(rows_ - 1, all.columnCount() - 1));
    }
  }
  const Count count_;
  int rows_;
};

inline std::size_t RegionCount(const Instruments& instruments) { return instruments.regions().size(); }

}  // namespace samelight::window
