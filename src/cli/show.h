#pragma once

#include "cli/program.h"
#include "glassine/report/clear_result.h"
#include "glassine/report/json.h"
#include "glassine/report/shelf_pages.h"
#include "glassine/report/shelf_results.h"

namespace glassine::cli {

// The words for a result are found by its type, wherever they are declared.
template <typename Result>
int Program::show(const Result& result, bool asked_for) {
    if (json)
        print(to_json(result));
    else if (!quiet || asked_for || result.ending != report::Ending::good)
        print(to_text(result, style()));
    return static_cast<int>(result.ending);
}

}  // namespace glassine::cli
