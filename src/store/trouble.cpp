#include "store/trouble.h"

#include "glassine/base/text.h"
#include "glassine/base/time.h"
#include "store/xml.h"

#include <algorithm>
#include <array>
#include <ctime>

#include <fmt/format.h>

namespace glassine::store {
namespace {

/// Codes and statuses from the Amazon S3 API Reference, "Error responses".
struct Known {
    std::string_view code;
    Cause cause;
    std::string_view why;
    std::string_view next;
};
constexpr std::array known_codes{
    Known{
        "InvalidAccessKeyId", Cause::permission, "the store does not know the access key",
        "check AWS_ACCESS_KEY_ID or the credentials file, and that the endpoint is the right one"},
    Known{"SignatureDoesNotMatch", Cause::permission, "the secret key is not the right one",
          "check AWS_SECRET_ACCESS_KEY or the credentials file, and region in the studio file"},
    Known{"ExpiredToken", Cause::permission, "the keys have run out", "get new ones"},
    Known{"AccessDenied", Cause::permission,
          "the keys do not allow it (or a lock on the objects there does not)",
          "have the store's keeper allow it, or name another place"},
    Known{"AllAccessDisabled", Cause::permission, "the store has closed this place",
          "ask the store's keeper"},
    Known{"NoSuchBucket", Cause::not_found, "there is no such bucket",
          "check its name, or have it made: Glassine makes none"},
    Known{"NoSuchKey", Cause::not_found, "there is no such object",
          "look what is there with `glassine audit`"},
    Known{"NoSuchUpload", Cause::not_found, "the upload that was begun is gone",
          "run the command again"},
    Known{"QuotaExceeded", Cause::no_space, "the room in the store is used up",
          "get more room there, then run the command again: it goes on where it stopped"},
    Known{"EntityTooLarge", Cause::not_supported, "the store does not take objects so large",
          "name a folder on a drive"},
    Known{"KeyTooLongError", Cause::not_supported, "the name is too long for the store",
          "shorten it, or the folder in the store"},
    Known{"InvalidObjectState", Cause::not_supported,
          "the object lies in a storage class that has to be asked for beforehand",
          "have it brought back by the store, then run the command again"},
    Known{"ObjectLocked", Cause::read_only, "the object is locked against change",
          "wait until the lock has run out, or name another place"},
    Known{"PreconditionFailed", Cause::exists, "another object stands there",
          "nothing is ever replaced: look what it is, or name another place"},
    Known{"InvalidStorageClass", Cause::usage, "the store has no such storage class",
          "correct storage_class in the studio file"},
    Known{"AuthorizationHeaderMalformed", Cause::usage, "the region is not the store's",
          "correct region in the studio file"},
    Known{"PermanentRedirect", Cause::usage, "the bucket belongs to another endpoint",
          "correct endpoint and region in the studio file"},
    Known{"BadDigest", Cause::unreadable, "the bytes were altered on the way",
          "run the command again; if it stays so, the line or this computer's memory is at fault"},
    Known{"SlowDown", Cause::busy, "the store asks for patience, again and again",
          "wait a while, then run the command again: it goes on where it stopped"},
};

constexpr std::array passing_codes{
    "SlowDown",  "InternalError", "ServiceUnavailable",       "RequestTimeout", "OperationAborted",
    "BadDigest", "Busy",          "XAmzContentSHA256Mismatch"};

std::string time_text(time_t moment) {
    return rfc3339({static_cast<std::int64_t>(moment) * 1'000'000'000});
}

struct Said {
    std::string code;
    std::string message;
    std::string server_time;
};

Said said_by(const HttpAnswer& answer) {
    const auto xml = parse_xml(answer.body);
    if (!xml || xml->name != "Error") return {};
    return {std::string((*xml)["Code"]), std::string((*xml)["Message"]),
            std::string((*xml)["ServerTime"])};
}

/// What a status means where no word comes with it (to HEAD, or from something between).
std::string_view code_of_status(long status) {
    switch (status) {
        case 301:
        case 307:
            return "PermanentRedirect";
        case 401:
        case 403:
            return "AccessDenied";
        case 404:
            return "NoSuchKey";
        case 408:
            return "RequestTimeout";
        case 412:
            return "PreconditionFailed";
        case 429:
        case 503:
            return "SlowDown";
        case 507:
            return "QuotaExceeded";
        default:
            return "";
    }
}

/// The store's clock, in the form that it has in errors, where it can be read.
std::string date_of(const HttpAnswer& answer) {
    const auto date = answer.headers.find("date");
    if (date == answer.headers.end()) return "another time";
    const time_t moment = curl_getdate(date->second.c_str(), nullptr);
    return moment < 0 ? date->second : time_text(moment);
}

/// Stores that keep objects from change refuse with the word for everything forbidden, and tell why
/// only in their sentence ("… protected by object lock", "forbidden by object lock").
bool tells_of_lock(const Said& said) {
    return text::ascii_lower(said.message).find("object lock") != std::string::npos;
}

std::string code_of(const HttpAnswer& answer, const Said& said) {
    if (said.code.empty()) return std::string(code_of_status(answer.status));
    if (said.code == "AccessDenied" && tells_of_lock(said)) return "ObjectLocked";
    return said.code;
}

}  // namespace

bool is_good(const HttpAnswer& answer) {
    if (!answer.failure.empty() || answer.status < 200 || answer.status > 299) return false;
    // Some requests answer 200 before they are done, and tell of an error in the body.
    return answer.body.find("<Error>") == std::string::npos || said_by(answer).code.empty();
}

Trouble trouble_of(const HttpAnswer& answer) {
    if (!answer.failure.empty()) return {"", answer.may_pass && !answer.stopped};
    Trouble trouble{code_of(answer, said_by(answer)), false};
    trouble.may_pass = std::ranges::find(passing_codes, trouble.code) != passing_codes.end() ||
                       answer.status == 429 ||
                       (answer.status >= 500 && answer.status != 501 && answer.status != 507);
    return trouble;
}

Error error_for(const HttpAnswer& answer, const std::string& tried, const std::string& address,
                const Settings& settings) {
    const std::string at = fmt::format(" ({})", settings.endpoint);
    if (answer.stopped)
        return {Cause::interrupted, tried, address, "it was interrupted", "run the command again"};
    if (!answer.failure.empty())
        return {Cause::unreadable, tried, address, answer.failure + at,
                "check the line and the endpoint, then run the command again: it goes on where it "
                "stopped"};
    const Said said = said_by(answer);
    const std::string code = trouble_of(answer).code;
    if (code == "RequestTimeTooSkewed")
        return {Cause::permission, tried, address,
                fmt::format("this computer's clock and the store's differ too much: {} here, {} "
                            "there{}",
                            time_text(std::time(nullptr)),
                            said.server_time.empty() ? date_of(answer)
                                                     : text::for_terminal(said.server_time),
                            at),
                "set this computer's clock right"};
    const auto known = std::ranges::find(known_codes, code, &Known::code);
    if (known != known_codes.end())
        return {known->cause, tried, address, std::string(known->why) + at,
                std::string(known->next)};
    const std::string words =
        code.empty() ? fmt::format("status {}", answer.status)
                     : fmt::format("{}{}{}", code, said.message.empty() ? "" : ": ", said.message);
    return {answer.status >= 500 ? Cause::busy : Cause::other, tried, address,
            fmt::format("the store refused it, {}{}", text::for_terminal(words), at),
            settings.storage_class.empty()
                ? "if it stays so, ask the store's keeper"
                : "check storage_class in the studio file; if it stays so, ask the store's keeper"};
}

}  // namespace glassine::store
