// Answers of the jobs, for a person (plain text) or a program (JSON, docs/answers.md), on the standard
// output. Problems go to the error output in the text form, and are part of the JSON.
#pragma once

#include "job/history.h"
#include "job/job.h"

namespace samelight::cli {

enum class As { kText, kJson };

void Print(const job::StockAnswer& answer, As as);
void Print(const job::PairAnswer& answer, As as);
void Print(const job::MatchAnswer& answer, As as);
void Print(const job::DeliverAnswer& answer, As as);
void Print(const job::OrderAnswer& answer, As as);
void Print(const job::CropAnswer& answer, As as);
void Print(const job::SettleAnswer& answer, As as);
void Print(const job::StateAnswer& answer, As as);
void Print(const job::RunAnswer& answer, As as);
void Print(const job::CheckAnswer& answer, As as);
void Print(const job::PictureAnswer& answer, As as);
void Print(const report::Report& report, As as);
// `whole`: every number of the looks, not only what they rest on.
void Print(const job::LookAnswer& answer, bool whole, As as);
void Print(const job::LookExportAnswer& answer, As as);
void Print(const job::DemoAnswer& answer, As as);
void Print(const job::ScoreAnswer& answer, As as);
void Print(const job::HistoryAnswer& answer, As as);
// `undo`: which of the two was asked for.
void Print(const job::UndoAnswer& answer, bool undo, As as);
void Print(const Error& error, As as);

}  // namespace samelight::cli
