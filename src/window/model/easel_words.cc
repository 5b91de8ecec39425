#include "window/model/easel_words.h"

#include <QtCore/QObject>

#include "window/model/loom_book.h"

namespace samelight::window {

QStringList ScanWords(const job::Book& book, const job::ScanRow& row, bool own) {
  QStringList words{QObject::tr("scan")};
  const QString number = row.photo.roll_position >= 0 ? QString::number(row.photo.roll_position + 1)
                                                      : QString::fromStdString(row.name);
  words += row.roll >= 0
               ? QStringLiteral("%1 · %2").arg(QString::fromStdString(book.rolls[row.roll].name), number)
               : number;
  if (row.light >= 0) {
    words += QString::fromStdString(book.lights[row.light].name);
    words += QString::fromStdString(WarmthText(book.lights[row.light].mired));
  }
  if (!own) words += QObject::tr("nearest of this light");
  if (row.barred) words += QObject::tr("kept out of the look");
  for (const std::string& text : row.seen) words += QString::fromStdString(text);
  return words;
}

QString CandidateWords(const record::PairCandidate& candidate) {
  return (candidate.kind == record::PairKind::kMoment ? QObject::tr("perhaps, same moment %1")
                                                      : QObject::tr("perhaps, same light %1"))
      .arg(candidate.confidence, 0, 'f', 2);
}

QStringList FrameWords(const job::FrameRow& row, const QString& what) {
  QStringList words{what, QString::fromStdString(row.name)};
  QString made = QString::fromStdString(record::Name(row.photo.encoding));
  const QString time = QString::fromStdString(ClockText(row.time_us));
  if (!time.isEmpty()) made += QStringLiteral(", ") + time;
  words += made;
  switch (row.kind) {
    case record::PairKind::kMoment:
      words += QObject::tr("same moment as scan");
      break;
    case record::PairKind::kLight:
      words += QObject::tr("same light as scan");
      break;
    case record::PairKind::kNone:
      words += row.filmed       ? QObject::tr("carried from its light")
               : row.light >= 0 ? QObject::tr("no film of this light")
                                : QObject::tr("no light yet");
      break;
  }
  if (row.delivered) words += QObject::tr("delivered");
  for (const std::string& text : row.seen) words += QString::fromStdString(text);
  return words;
}

}  // namespace samelight::window
