# The Debian 12 packages that the project needs, each with its reason. The one list: policies/demo/run and tests/run
# both read it, and DEVELOPERS.md points here. Sourced, not run.

packages_to_build="
g++                        # the compiler
cmake                      # the build
ninja-build                # … which runs it
pkg-config                 # finds libxxhash for it
tao-pegtl-dev              # parsing the language
nlohmann-json3-dev         # compiled policies, findings, settings
libsimdjson-dev            # records on the hot path
libfmt-dev                 # text out (its header-only part)
libcli11-dev               # the command line
libhowardhinnant-date-dev  # civil time and zones
tzdata                     # … and the zones themselves
libboost-dev               # Boost.Math: intervals and quantiles of distributions
libxxhash-dev              # stable ids of findings, content hashes
libexpected-dev            # results at boundaries
libcmark-gfm-dev           # Markdown to HTML: the policy document
libcmark-gfm-extensions-dev  # … and its tables
libzstd-dev                # records compressed with zstd
zlib1g-dev                 # records compressed with gzip
"

packages_to_test="
catch2                     # tests
libsqlite3-dev             # an independent judge of interval findings
zstd                       # an independent compressor
libz3-dev                  # an independent judge of gaps and conflicts
python3                    # an independent reader of the zone files, and of JSON
python3-jsonschema         # the published schema of SARIF; an independent judge of the schema of records
python3-scipy              # an independent reckoner of intervals
python3-statsmodels        # … and another
"

# Only for tests/runtime/browser/run, which stands beside the tests since it needs more than apt.
packages_to_see="
chromium                   # the report as people see it
nodejs                     # … what drives it
npm                        # … and fetches the driver and the judge of accessibility, once, pinned
"

# The names alone.
names_of() { sed -e 's/#.*//' <<<"$1" | tr -s ' \n' '\n' | sed '/^$/d'; }

# Installs what is missing of the given names, and says so first. Touches no network where nothing is missing.
install_missing() {
    local name missing=() as_root=()
    for name in "$@"; do
        [ "$(dpkg-query -W -f '${db:Status-Status}' "$name" 2>/dev/null)" = installed ] || missing+=("$name")
    done
    if [ ${#missing[@]} -eq 0 ]; then
        echo "Packages: all that is needed is installed."
        return 0
    fi
    echo "Packages: these Debian packages are missing and will be installed with apt-get:"
    printf '    %s\n' "${missing[@]}"
    if [ "$(id -u)" -ne 0 ]; then
        if ! command -v sudo >/dev/null; then
            echo "This needs root: run it as root, or install the packages above first, and run it again." >&2
            return 2
        fi
        as_root=(sudo)
    fi
    export DEBIAN_FRONTEND=noninteractive
    "${as_root[@]}" apt-get -q update && "${as_root[@]}" apt-get -q install -y --no-install-recommends "${missing[@]}" && return 0
    echo "apt-get could not install them: is this Debian 12, and is the network there?" >&2
    return 2
}
