# Insulin as it was logged.

insulin-heading = Insulin as it was logged
insulin-none = No insulin was logged in this window.
insulin-logged = Logged on { $with } of { $days } days. Units, mean of the days on which that kind was logged.
insulin-kind = { $kind ->
    [rapid] Rapid-acting
    [short] Short-acting
    [intermediate] Intermediate
    [long] Long-acting
    [mixed] Premixed
   *[other] Kind not said
}
insulin-kind-basal = { $kind ->
    [rapid] Rapid-acting, basal rate
    [short] Short-acting, basal rate
    [intermediate] Intermediate, basal rate
    [long] Long-acting, basal rate
    [mixed] Premixed, basal rate
   *[other] Kind not said, basal rate
}
insulin-a-day = A day
insulin-method = How insulin is counted
