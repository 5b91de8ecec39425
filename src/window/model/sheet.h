// The sheet: a light, or a chosen sequence, as equal pictures; what stands out is marked.
#pragma once

#include <vector>

#include <QtCore/QAbstractListModel>
#include <QtCore/QSize>

#include "window/model/hand.h"

namespace samelight::window {

class Sheet final : public QAbstractListModel {
  Q_OBJECT
 public:
  enum Role {
    kPhoto = Qt::UserRole,
    kLeftOver,  // against its scan; of a frame without one, against the others of the sheet (Desk::Apart)
    kOver,
    kToCheck,
    kReason
  };  // qint64, double (in marks), bool, bool, QString
  Sheet(DeskLink* link, Hand* hand, QObject* parent = nullptr);
  int rowCount(const QModelIndex& parent = {}) const override;
  QVariant data(const QModelIndex& index, int role = Qt::DisplayRole) const override;
  QHash<int, QByteArray> roleNames() const override;

  // A whole light (index into the book), or a sequence.
  void ShowLight(int light);
  void ShowFrames(std::vector<PhotoId> frames);
  QString title() const { return title_; }
  PhotoId photo(int row) const { return frames_[row]; }
  int RowOf(PhotoId frame) const;

  // Pictures of the rows [first, last] at a size in device px; the others are let go.
  void Want(int first, int last, QSize cell);
  void Rest();  // the sheet is put away
  // nullptr: not made yet.
  const preview::Shown* Picture(int row) const;

 signals:
  void pictureCame(int row);

 private:
  void Ask(int row);
  void Compare();  // the frames among themselves
  DeskLink* link_;
  Hand* hand_;
  QString title_;
  int light_ = -1;
  std::vector<PhotoId> frames_;
  std::vector<preview::Shown> pictures_;
  std::vector<double> apart_;
  int first_ = 0, last_ = -1;
  QSize cell_;
};

}  // namespace samelight::window
