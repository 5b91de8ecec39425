// The handles as fields: one row each; the value column is edited by text or number.
#pragma once

#include "window/model/instrument_rows.h"

namespace samelight::window {

class HandleModel final : public InstrumentRows<QAbstractTableModel> {
  Q_OBJECT
 public:
  enum Column { kName, kValue, kOrigin, kSigma, kColumns };
  enum Role {
    kNumber = Qt::UserRole,  // double: the value applied
    kSolved,                 // double: without the touch
    kOfLight,                // double: median of the light
    kSigmaNumber,            // double; NaN: none
    kUnit,                   // QString
    kStep,                   // double: of one key press; coarse is ten times that
    kDigits,                 // int
    kLeast,
    kMost,     // double: of the value applied
    kTouched,  // bool
    kHelp,     // QString
  };
  explicit HandleModel(Instruments* instruments, QObject* parent = nullptr);
  int columnCount(const QModelIndex& parent = {}) const override;
  QVariant data(const QModelIndex& index, int role = Qt::DisplayRole) const override;
  QVariant headerData(int section, Qt::Orientation orientation, int role = Qt::DisplayRole) const override;
  Qt::ItemFlags flags(const QModelIndex& index) const override;
  // Qt::EditRole of kValue: a number, or text: "0.42" sets, "+0.3" and "-0.3" (a sign first) add, "=-0.3"
  // sets a negative value; a decimal comma and the unit are understood. One step of the history. False: not a
  // number.
  bool setData(const QModelIndex& index, const QVariant& value, int role = Qt::EditRole) override;
  QHash<int, QByteArray> roleNames() const override;

  // While a field is dragged or a key is held: shown at once, kept by Instruments::Keep().
  void Try(int row, double value);
  void TryStep(int row, double steps);          // in steps of kStep
  enum class To { kSolved, kLight, kNothing };  // the solved value; the light's; no correction at all (zero)
  void Reset(int row, To to);
  record::Handle handle(int row) const;
};

}  // namespace samelight::window
