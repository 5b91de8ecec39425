#include "window/model/orders.h"

#include "job/order_fields.h"

namespace samelight::window {

Orders::Orders(DeskLink* link, QObject* parent) : QAbstractListModel(parent), link_(link) {
  connect(link, &DeskLink::bookChanged, this, &Orders::Refresh);
  Refresh();
}

void Orders::Refresh() {
  beginResetModel();
  kept_.clear();
  for (const auto& [name, order] : link_->book()->standing.orders) kept_.push_back(order);
  endResetModel();
}

int Orders::rowCount(const QModelIndex& parent) const {
  return parent.isValid() ? 0 : static_cast<int>(kept_.size());
}

QVariant Orders::data(const QModelIndex& index, int role) const {
  if (!checkIndex(index, CheckIndexOption::IndexIsValid)) return {};
  const record::Order& order = kept_[static_cast<std::size_t>(index.row())];
  switch (role) {
    case Qt::DisplayRole:
    case kName:
      return QString::fromStdString(order.name);
    case Qt::ToolTipRole:
    case kTold:
      return QString::fromStdString(job::Told(order));
    default:
      return {};
  }
}

QHash<int, QByteArray> Orders::roleNames() const {
  return {{Qt::DisplayRole, "display"}, {kName, "name"}, {kTold, "told"}};
}

int Orders::RowOf(const QString& name) const {
  for (std::size_t i = 0; i < kept_.size(); ++i)
    if (kept_[i].name == name.toStdString()) return static_cast<int>(i);
  return -1;
}

std::vector<Orders::Field> Orders::Fields(int row) const {
  const record::Order order = row < 0 ? record::Order{} : kept_.at(static_cast<std::size_t>(row));
  std::vector<Field> fields;
  for (const job::OrderField& one : job::OrderFields()) {
    Field field{QString::fromStdString(one.name),
                QString::fromStdString(one.kind),
                QString::fromStdString(one.help),
                QString::fromStdString(job::FieldText(order, one.name)),
                {}};
    if (field.kind.contains(QLatin1Char('|'))) field.choices = field.kind.split(QLatin1Char('|'));
    fields.push_back(std::move(field));
  }
  return fields;
}

QString Orders::WhyNot(const QString& field, const QString& text) {
  record::Order order;
  const Status fits = job::SetField(order, field.toStdString(), text.toStdString());
  return fits.ok() ? QString() : QString::fromStdString(fits.error().what);
}

}  // namespace samelight::window
