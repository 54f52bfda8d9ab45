#include "glassine/journeys/certificate.h"

#include "glassine/report/certificate.h"
#include "glassine/shelf/volume.h"
#include "journeys/drive_words.h"

#include <algorithm>

#include <fmt/format.h>

namespace glassine::journeys {

namespace {

/// "SHELF-07, cupboard B, Model 9, serial 77": the volume as the shelf knows it, and the device.
std::string where_copy_is(const Context& context, const io::Path& path) {
    std::string out;
    try {
        if (const auto volume = shelf::find_volume(context.files, path)) {
            out = volume->identity.label;
            for (const std::string& more :
                 {volume->identity.place, drive_words(context.files, path)})
                if (!more.empty()) out += (out.empty() ? "" : ", ") + more;
            return out;
        }
    } catch (const Error&) {
        // Good to know, no more: what is wrong with the identity is told with the findings.
    }
    return drive_words(context.files, path);
}

}  // namespace

std::string certificate(const Context& context, const CloseoutRequest& request,
                        const report::CloseoutResult& result) {
    const bool sealed =
        !result.seal.empty() && std::ranges::any_of(result.copies, &report::Copy::verified);
    if (!sealed) return "";
    report::CertificateHead head;
    head.studio = context.studio.name;
    head.person = context.person;
    head.clients = request.clients;
    head.about = request.about;
    head.shoot_date = iso_date(request.date);
    head.job_number = request.job_number;
    if (request.promised_until) head.promised_until = iso_date(*request.promised_until);
    if (request.keep_until) head.keep_until = iso_date(*request.keep_until);
    for (const report::Copy& copy : result.copies)
        head.drives.push_back(copy.verified ? where_copy_is(context, copy.path) : "");
    return report::certificate_page(result, head);
}

}  // namespace glassine::journeys
