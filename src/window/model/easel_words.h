// What stands beside a picture on the easel: what it is, its name, its light and its time.
#pragma once

#include <QtCore/QStringList>

#include "window/model/desk_link.h"

namespace samelight::window {

// The first line says what it is, the second its name. `own`: paired with the frame in hand.
QStringList ScanWords(const job::Book& book, const job::ScanRow& row, bool own);
// "perhaps, same moment 0.42".
QString CandidateWords(const record::PairCandidate& candidate);
QStringList FrameWords(const job::FrameRow& row, const QString& what);

}  // namespace samelight::window
