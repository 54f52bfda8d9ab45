#include "glassine/base/error.h"
#include "glassine/io/files.h"
#include "glassine/store/settings.h"

#include <fmt/format.h>

namespace glassine::store {
namespace {

constexpr std::uint64_t largest_file = 1u << 20;
constexpr std::string_view tried = "find the keys of the object store";

std::string_view trimmed(std::string_view text) {
    constexpr std::string_view blank = " \t\r";
    const std::size_t begin = text.find_first_not_of(blank);
    if (begin == std::string_view::npos) return {};
    return text.substr(begin, text.find_last_not_of(blank) - begin + 1);
}

/// The usual form: `[section]`, `name = value`, `#` and `;` for comments.
class CredentialsFile {
  public:
    CredentialsFile(std::string path, std::string profile)
        : path_(std::move(path)), profile_(std::move(profile)) {}

    Credentials read(std::string_view text) {
        for (unsigned number = 1; !text.empty(); ++number) {
            const std::string_view line = text.substr(0, text.find('\n'));
            text.remove_prefix(std::min(line.size() + 1, text.size()));
            take(trimmed(line), number);
        }
        if (!found_ || credentials_.access_key.empty() || credentials_.secret_key.empty())
            throw Error(Cause::not_found, std::string(tried), path_,
                        found_ ? fmt::format("its section [{}] lacks aws_access_key_id or "
                                             "aws_secret_access_key",
                                             profile_)
                               : fmt::format("it has no section [{}]", profile_),
                        "add them there, or name another section by profile in the studio file");
        return credentials_;
    }

  private:
    void take(std::string_view line, unsigned number) {
        if (line.empty() || line.front() == '#' || line.front() == ';') return;
        if (line.front() == '[') {
            if (line.back() != ']') throw malformed(number);
            inside_ = trimmed(line.substr(1, line.size() - 2)) == profile_;
            found_ = found_ || inside_;
            return;
        }
        const std::size_t equals = line.find('=');
        if (equals == std::string_view::npos) throw malformed(number);
        if (!inside_) return;
        const std::string_view name = trimmed(line.substr(0, equals));
        const std::string value(trimmed(line.substr(equals + 1)));
        if (name == "aws_access_key_id") credentials_.access_key = value;
        if (name == "aws_secret_access_key") credentials_.secret_key = value;
        if (name == "aws_session_token") credentials_.session_token = value;
    }

    Error malformed(unsigned number) const {
        return {Cause::malformed, std::string(tried), path_,
                fmt::format("line {} is neither a [section] nor NAME = VALUE", number),
                "put the line right"};
    }

    std::string path_;
    std::string profile_;
    Credentials credentials_;
    bool inside_ = false;
    bool found_ = false;
};

}  // namespace

Credentials find_credentials(io::FileSystem& files, const std::string& profile,
                             const std::function<std::string(const char*)>& environment) {
    Credentials given{environment("AWS_ACCESS_KEY_ID"), environment("AWS_SECRET_ACCESS_KEY"),
                      environment("AWS_SESSION_TOKEN")};
    if (!given.access_key.empty() && !given.secret_key.empty()) return given;
    std::string path = environment("AWS_SHARED_CREDENTIALS_FILE");
    const std::string home = environment("HOME");
    if (path.empty() && !home.empty()) path = home + "/.aws/credentials";
    if (path.empty() || !files.find(path))
        throw Error(Cause::not_found, std::string(tried), path,
                    "neither the environment has AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY, nor "
                    "is there a credentials file",
                    "set them, or write the file; docs/object-store.md shows how");
    return CredentialsFile(path, profile).read(io::read_small_file(files, path, largest_file));
}

}  // namespace glassine::store
