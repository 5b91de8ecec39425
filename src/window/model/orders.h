// The orders that a session keeps.
#pragma once

#include <QtCore/QAbstractListModel>
#include <QtCore/QStringList>

#include "window/model/desk_link.h"

namespace samelight::window {

// One row per order, by name.
class Orders final : public QAbstractListModel {
  Q_OBJECT
 public:
  enum Role { kName = Qt::UserRole, kTold };  // QString; what differs from a plain order, in words
  explicit Orders(DeskLink* link, QObject* parent = nullptr);
  int rowCount(const QModelIndex& parent = {}) const override;
  QVariant data(const QModelIndex& index, int role = Qt::DisplayRole) const override;
  QHash<int, QByteArray> roleNames() const override;
  int RowOf(const QString& name) const;  // -1: not kept
  // What was said just now counts at once; news of it come later.
  void Refresh();

  // Every field of an order in words, as job/order_fields.h has them; `row` -1: of a plain order.
  struct Field {
    QString name, kind, help, text;
    QStringList choices;  // of a kind that is a choice
  };
  std::vector<Field> Fields(int row) const;
  // Empty, or what is wrong with this text for a field.
  static QString WhyNot(const QString& field, const QString& text);

 private:
  DeskLink* link_;
  std::vector<record::Order> kept_;
};

}  // namespace samelight::window
